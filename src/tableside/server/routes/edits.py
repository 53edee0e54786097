"""Edits, previews and what changed."""

from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import JSONResponse

from tableside.server import editing
from tableside.server.routes.desk import TheStudy
from tableside.server.shapes.edits import (
    Changes,
    ConflictProblem,
    EditGiven,
    Previewed,
    PreviewGiven,
)

router = APIRouter(prefix="/api/studies/{study}", tags=["edits"])
ANSWERS: dict[int | str, dict[str, Any]] = {
    200: {"model": Changes},
    409: {"model": ConflictProblem},
}


@router.post("/edits", responses=ANSWERS, response_model=None)
def add_edit(live: TheStudy, given: EditGiven) -> JSONResponse:
    """Keep an edit. It is on the disk when this answers."""
    return JSONResponse(editing.edit(live, given))


@router.get("/changes", responses={200: {"model": Changes}}, response_model=None)
def read_changes(
    live: TheStudy, since: Annotated[int, Query(ge=0, le=10**9)] = 0
) -> JSONResponse:
    """Return what changed since a version; the whole reading where that is too long ago."""
    return JSONResponse(editing.changes_since(live, since))


@router.post("/preview", responses={200: {"model": Previewed}}, response_model=None)
def preview_edit(live: TheStudy, given: PreviewGiven) -> JSONResponse:
    """Return the numbers, indices and checks that an edit would change; nothing is kept."""
    return JSONResponse(editing.preview(live, given))
