"""Images and their frames."""

from typing import Annotated

from fastapi import APIRouter, Query, Response

from tableside.errors import OutOfRange
from tableside.server import workflow
from tableside.server.frames import pack, thumbnail
from tableside.server.routes.desk import FrameNumber, ImageNumber, TheDesk, TheStudy
from tableside.server.shapes.study import ImageDetail

router = APIRouter(prefix="/api/studies/{study}/images/{image}", tags=["images"])
FOREVER = {"cache-control": "private, max-age=31536000, immutable"}
JPEG = {"content": {"image/jpeg": {"schema": {"type": "string", "format": "binary"}}}}
PACK = {
    "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    "description": "For each frame: its length (big-endian uint32), then its JPEG",
}
THUMBNAIL_PX = 240


@router.get("", response_model_exclude_none=True)
def read_image(live: TheStudy, image: ImageNumber) -> ImageDetail:
    """Return what is needed to show and play an image."""
    return workflow.image_detail(live, image)


@router.get("/frames/{frame}", response_class=Response, responses={200: JPEG})
def read_frame(
    desk: TheDesk, live: TheStudy, image: ImageNumber, frame: FrameNumber
) -> Response:
    """Return one frame: the stored JPEG where a browser shows it right, else one made once."""
    place = image, live.image(image)
    data = desk.frames.get(live.id, live.opened, place, frame)
    return Response(data, media_type="image/jpeg", headers=FOREVER)


@router.get("/frames", response_class=Response, responses={200: PACK})
def read_frames(
    desk: TheDesk,
    live: TheStudy,
    image: ImageNumber,
    start: Annotated[int, Query(alias="from", ge=0, le=100_000)] = 0,
    count: Annotated[int, Query(ge=1, le=1000)] = 100,
) -> Response:
    """Return a run of frames; fewer than asked for at the end or of very large frames."""
    record = live.image(image)
    if start >= record.frames:
        raise OutOfRange(f"from = {start}; the image has frames 0 to {record.frames - 1}")
    frames: list[bytes] = []
    size = 0
    for frame in range(start, min(start + count, record.frames)):
        frames.append(desk.frames.get(live.id, live.opened, (image, record), frame))
        size += len(frames[-1])
        if size > desk.settings.most_pack_bytes:
            break
    return Response(pack(frames), media_type="application/octet-stream", headers=FOREVER)


@router.get("/thumbnail", response_class=Response, responses={200: JPEG})
def read_thumbnail(live: TheStudy, image: ImageNumber) -> Response:
    """Return a small picture of the middle frame."""
    record = live.image(image)
    pixels = live.opened.frame(record.file, record.frames // 2)
    data = thumbnail(pixels, THUMBNAIL_PX)
    return Response(data, media_type="image/jpeg", headers=FOREVER)
