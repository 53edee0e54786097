"""Tools that change nothing: edges, M-mode from a cine, rulers, export."""

from typing import Any

from fastapi import APIRouter, Response

from tableside.server import tools
from tableside.server.export import TYPES, export
from tableside.server.routes.desk import TheStudy
from tableside.server.shapes.tools import (
    ExportGiven,
    MMode,
    MModeGiven,
    RulerGiven,
    Rulers,
    SnapGiven,
    Snapped,
)

FILES: dict[int | str, dict[str, Any]] = {
    200: {
        "content": {
            kind: {"schema": {"type": "string", "format": "binary"}} for kind in TYPES.values()
        }
    },
}
router = APIRouter(prefix="/api/studies/{study}", tags=["tools"])


@router.post("/snap")
def snap_caliper(live: TheStudy, given: SnapGiven) -> Snapped:
    """Return the interfaces nearest to both ends of a caliper, to a fraction of a pixel."""
    return tools.snap_caliper(live, given)


@router.post("/mmode", response_model_exclude_none=True)
def make_mmode(live: TheStudy, given: MModeGiven) -> MMode:
    """Return the M-mode along a line over all frames of a cine, with traced walls."""
    return tools.mmode(live, given)


@router.post("/ruler")
def find_rulers(live: TheStudy, given: RulerGiven) -> Rulers:
    """Return the rulers drawn on a picture."""
    return tools.rulers(live, given)


@router.post("/export", response_class=Response, responses=FILES)
def export_image(live: TheStudy, given: ExportGiven) -> Response:
    """Return a frame or clip without the writing around it."""
    name = f"image-{given.image + 1}.{given.format}"
    return Response(
        export(live, given),
        media_type=TYPES[given.format],
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )
