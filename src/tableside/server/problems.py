"""The one translation of errors to HTTP (RFC 9457)."""

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from tableside.corrections.history import Conflict
from tableside.errors import InputError, NotFound, NotMeasurable, TablesideError
from tableside.server.in_words import edit_json
from tableside.server.live_study import NotReady
from tableside.server.payloads import StaleValue

STATUS: tuple[tuple[type[TablesideError], int], ...] = (  # the first that fits
    (StaleValue, 409),
    (NotReady, 409),
    (NotFound, 404),
    (InputError, 422),
    (NotMeasurable, 422),
)


def add_problems(app: FastAPI) -> None:
    """Make the app answer every error as problem JSON."""
    app.add_exception_handler(TablesideError, _deliberate)
    app.add_exception_handler(RequestValidationError, _not_valid)
    app.add_exception_handler(HTTPException, _of_http)
    app.add_exception_handler(Exception, _defect)


def problem(status: int, code: str, detail: str, **more: object) -> JSONResponse:
    """Return problem details as an answer."""
    body = {"type": f"/errors/{code}", "title": code, "status": status, "detail": detail}
    return JSONResponse({**body, **more}, status, media_type="application/problem+json")


async def _deliberate(_: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, TablesideError)
    if isinstance(error, Conflict):
        newer = [edit_json(one) for one in error.newer]
        version = error.newer[-1].version
        return problem(409, error.code, str(error), newer=newer, version=version)
    status = next((status for kind, status in STATUS if isinstance(error, kind)), 500)
    return problem(status, error.code, str(error))


async def _defect(_: Request, __: Exception) -> JSONResponse:
    return problem(500, "defect", "a fault of the program; nothing that was kept is lost")


async def _not_valid(_: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    where = ".".join(
        str(step) for step in first["loc"] if step not in ("body", "query", "path")
    )
    return problem(422, "not-valid", f"{where}: {first['msg']}" if where else first["msg"])


async def _of_http(_: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, HTTPException)
    return problem(error.status_code, "http", str(error.detail))
