"""The list of studies, deliveries, and one study with its news."""

from typing import Annotated, Any

from fastapi import APIRouter, Header, Query, Request
from fastapi.responses import JSONResponse, StreamingResponse

from tableside.server import workflow
from tableside.server.events import stream
from tableside.server.routes.desk import TheDesk, TheStudy
from tableside.server.shapes.study import Listed, Received, StudyState
from tableside.server.upload import receive_upload

router = APIRouter(prefix="/api/studies", tags=["studies"])
UPLOAD: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            "multipart/form-data": {
                "schema": {
                    "type": "object",
                    "required": ["files"],
                    "properties": {
                        "files": {
                            "type": "array",
                            "minItems": 1,
                            "items": {"type": "string", "format": "binary"},
                            "description": (
                                "The files; each filename is its path inside the study. "
                                "A zip is unpacked."
                            ),
                        }
                    },
                }
            }
        },
    }
}
EVENTS = {
    "content": {"text/event-stream": {"schema": {"type": "string"}}},
    "description": (
        "progress {file, position, total}; reading {version}; "
        "edit {version, kind, who, image}; failed {detail}. "
        "The id of an event is the version of the log."
    ),
}


@router.get("")
def list_studies(
    desk: TheDesk, search: Annotated[str, Query(max_length=200)] = ""
) -> list[Listed]:
    """Return the studies whose patient, owner, breed or date holds every word of `search`."""
    return workflow.list_studies(desk, search)


@router.post("", status_code=202, openapi_extra=UPLOAD)
async def add_study(desk: TheDesk, request: Request) -> Received:
    """Take a folder, a zip or files; the study is read while other work goes on."""
    return await receive_upload(desk, request)


@router.get("/{study}", responses={200: {"model": StudyState}}, response_model=None)
def read_study(live: TheStudy) -> JSONResponse:
    """Return the study as of now."""
    return JSONResponse(workflow.study_state(live))


@router.get("/{study}/events", response_class=StreamingResponse, responses={200: EVENTS})
async def read_events(
    desk: TheDesk,
    live: TheStudy,
    last_event_id: Annotated[str | None, Header(max_length=20)] = None,
) -> StreamingResponse:
    """Return news as server-sent events; `Last-Event-ID` gets what was missed."""

    async def news() -> Any:
        with live.news.watched() as queue:
            first = workflow.news_since(live, last_event_id)
            async for line in stream(queue, first, desk.settings.keepalive_s):
                yield line

    return StreamingResponse(news(), media_type="text/event-stream")
