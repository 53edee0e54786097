"""What every request must be before anything looks at it, and what every answer carries.

The server listens on this machine alone, yet any page in the same browser can send requests to
it. A page of another site is refused by what the browser says about it (``Sec-Fetch-Site``,
``Origin``); one that had its name point to this machine (DNS rebinding) by the ``Host``.
"""

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from tableside.server.settings import Settings

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob: data:",
        "font-src 'self'",
        "connect-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
ALWAYS = {
    "content-security-policy": POLICY,
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "referrer-policy": "no-referrer",
    "x-content-type-options": "nosniff",
}
TOO_MUCH = "more was sent than is taken at once; send a part of it"
OURS = {"same-origin", "none"}  # "none": typed, or from a bookmark


class Guard:
    """Refuses what no page of ours sends; adds the headers that keep pages to themselves."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self._app = app
        self._settings = settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in ALWAYS.items():
                    headers.setdefault(name, value)
                if scope["path"].startswith("/api/"):
                    headers.setdefault("cache-control", "no-store")
            await send(message)

        refusal = self._refusal(scope)
        if refusal is not None:
            status, detail = refusal
            await _problem(status, detail)(scope, receive, send_guarded)
            return
        try:
            await self._app(scope, _bounded(receive, self._most_bytes(scope)), send_guarded)
        except TooMuch:
            await _problem(413, TOO_MUCH)(scope, receive, send_guarded)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        headers = Headers(scope=scope)
        if _name(headers.get("host", "")) not in self._settings.hosts:
            return 421, "this server answers to the address of this machine alone"
        site, origin = headers.get("sec-fetch-site"), headers.get("origin")
        is_page = scope["method"] == "GET" and headers.get("sec-fetch-mode") == "navigate"
        if site is not None and site not in OURS and not is_page:
            return 403, "a page of another site asked; only the desk's own pages may"
        if origin is not None and origin != _own_origin(scope, headers):
            return 403, "a page of another site asked; only the desk's own pages may"
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > self._most_bytes(scope):
            return 413, TOO_MUCH
        return None

    def _most_bytes(self, scope: Scope) -> int:
        is_upload = scope["path"] == "/api/studies" and scope["method"] == "POST"
        return self._settings.most_upload_bytes if is_upload else self._settings.most_body_bytes


class TooMuch(HTTPException):
    """A body grew past its limit while it came in."""

    def __init__(self) -> None:
        super().__init__(413, TOO_MUCH)


def _bounded(receive: Receive, most_bytes: int) -> Receive:
    taken = 0

    async def receive_bounded() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > most_bytes:
            raise TooMuch
        return message

    return receive_bounded


def _name(host: str) -> str:
    """Return the name in a Host header, without its port."""
    if host.startswith("["):
        return host.partition("]")[0] + "]"
    return host.partition(":")[0].lower()


def _own_origin(scope: Scope, headers: Headers) -> str:
    return f"{scope['scheme']}://{headers.get('host', '')}"


def _problem(status: int, detail: str) -> JSONResponse:
    body = {"type": "about:blank", "title": "refused", "status": status, "detail": detail}
    return JSONResponse(body, status, media_type="application/problem+json")
