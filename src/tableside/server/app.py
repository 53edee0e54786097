"""The application: routes, guard and errors put together."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI

from tableside.server.desk import Desk
from tableside.server.guard import Guard
from tableside.server.openapi import describe
from tableside.server.pages import Pages
from tableside.server.problems import add_problems
from tableside.server.routes import catalogue, edits, images, studies, tools
from tableside.server.settings import Settings


def create_app(settings: Settings) -> FastAPI:
    """Return the desk's server over one data folder."""
    desk = Desk(settings)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        yield
        desk.close()

    app = FastAPI(
        title="tableside, the desk",
        version="1",
        description="Pixels travel, centimetres never do: the server computes every number.",
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
    )
    app.state.desk = desk
    app.openapi = lambda: describe(app)  # type: ignore[method-assign]  # FastAPI's own way
    add_problems(app)
    for module in (catalogue, studies, images, edits, tools):
        app.include_router(module.router)
    app.mount("/", Pages())
    app.add_middleware(Guard, settings=settings)
    return app
