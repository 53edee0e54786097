"""How a route gets at the desk."""

from typing import Annotated

from anyio import to_thread
from fastapi import Depends, Path, Request

from tableside.server.desk import Desk
from tableside.server.live_study import LiveStudy

StudyId = Annotated[str, Path(min_length=16, max_length=16, pattern="^[0-9a-f]{16}$")]
ImageNumber = Annotated[int, Path(ge=0, le=100_000)]
FrameNumber = Annotated[int, Path(ge=0, le=100_000)]


async def _desk(request: Request) -> Desk:
    desk = request.app.state.desk
    assert isinstance(desk, Desk)
    return desk


TheDesk = Annotated[Desk, Depends(_desk)]


async def _study(study: StudyId, desk: TheDesk) -> LiveStudy:
    """Return a study at once when it is in memory; a thread costs more than a frame does."""
    live = desk.in_memory(study)
    return live if live is not None else await to_thread.run_sync(desk.study, study)


TheStudy = Annotated[LiveStudy, Depends(_study)]
