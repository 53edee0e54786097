"""How a route gets at the desk."""

from typing import Annotated

from fastapi import Depends, Path, Request

from tableside.server.desk import Desk
from tableside.server.live_study import LiveStudy

StudyId = Annotated[str, Path(min_length=16, max_length=16, pattern="^[0-9a-f]{16}$")]
ImageNumber = Annotated[int, Path(ge=0, le=100_000)]
FrameNumber = Annotated[int, Path(ge=0, le=100_000)]


def _desk(request: Request) -> Desk:
    desk = request.app.state.desk
    assert isinstance(desk, Desk)
    return desk


TheDesk = Annotated[Desk, Depends(_desk)]


def _study(study: StudyId, desk: TheDesk) -> LiveStudy:
    return desk.study(study)


TheStudy = Annotated[LiveStudy, Depends(_study)]
