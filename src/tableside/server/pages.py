"""The pages themselves: files that the build of the front end put into the package."""

from pathlib import Path

from starlette.responses import HTMLResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import Receive, Scope, Send

FOLDER = Path(__file__).parent / "web"
MISSING = (
    "the pages of the desk are missing from this installation: run "
    "`uv sync --reinstall-package tableside` (it builds them) and start again"
)
FOREVER = "public, max-age=31536000, immutable"


def missing_pages() -> str | None:
    """Return what to do when the pages were not built; None when they are there."""
    return None if (FOLDER / "index.html").is_file() else MISSING


class Pages(StaticFiles):
    """Serves the pages; hashed assets are kept by the browser, the page itself never."""

    def __init__(self) -> None:
        super().__init__(directory=FOLDER, html=True, check_dir=False)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if missing_pages() is None:
            await super().__call__(scope, receive, send)
            return
        page = f"<!doctype html><html lang=en><title>tableside</title><p>{MISSING}</p>"
        await HTMLResponse(page, 503)(scope, receive, send)

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Return a file with how long a browser may keep it."""
        response = await super().get_response(path, scope)
        is_hashed = path.startswith("assets/") and response.status_code == 200
        response.headers["cache-control"] = FOREVER if is_hashed else "no-cache"
        return response
