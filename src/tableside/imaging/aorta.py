"""Aortic root and left atrium on an M-mode: three leading edges in every column."""

from dataclasses import dataclass, field

from tableside.imaging.edges import EdgeOptions, EdgeSearch, refine_edges
from tableside.imaging.interface import Interface, Judge
from tableside.imaging.layers import AORTA_AND_ATRIUM, LayerOptions, find_layers
from tableside.imaging.mmode_grey import MmodeGrey, mmode_grey
from tableside.imaging.pulse import USUAL_CM, half_rise_shift_cm
from tableside.imaging.types import Pixels

ANTERIOR, POSTERIOR, ATRIAL = 1, 3, 5  # boundaries of the layer model


@dataclass(frozen=True, slots=True, kw_only=True)
class RootOptions:
    """How root and atrium are traced. Change these, not the code."""

    layers: LayerOptions = field(
        default_factory=lambda: LayerOptions(
            model=AORTA_AND_ATRIUM, row_cm=0.04, blur_cm=0.04, line_in_blood=5.0
        )
    )
    edges: EdgeOptions = field(default_factory=EdgeOptions)
    least_contrast: float = 0.30


@dataclass(frozen=True, slots=True, kw_only=True)
class RootTrace:
    """Walls of the aortic root and the far wall of the left atrium."""

    anterior: Interface
    posterior: Interface
    atrial: Interface


def trace_root(
    mmode: Pixels | MmodeGrey,
    *,
    cm_per_row: float,
    s_per_column: float,
    options: RootOptions | None = None,
) -> RootTrace:
    """Trace the aortic root and the left atrium.

    Parameters
    ----------
    mmode : (rows, columns) or (rows, columns, 3), or MmodeGrey
        The region of the tracing alone.
    cm_per_row, s_per_column : float
        Its scale.
    options : RootOptions, optional

    Raises
    ------
    NotMeasurable
        When the region is too small or has no contrast.
    """
    options = options or RootOptions()
    picture = mmode_grey(mmode)
    top = picture.skin_row
    grey = picture.grey[top:]
    layers = find_layers(
        grey, cm_per_row=cm_per_row, s_per_column=s_per_column, options=options.layers
    )
    levels, scale = (layers.blood, layers.tissue), (cm_per_row, s_per_column)
    shift = half_rise_shift_cm(USUAL_CM) / cm_per_row
    judge = Judge(picture.filled, top, cm_per_row)
    searches = [
        EdgeSearch(grey, layers.rows[boundary], levels)
        for boundary in (ANTERIOR, POSTERIOR, ATRIAL)
    ]
    found = [
        judge(edge, edge.row + shift, options.least_contrast)
        for edge in refine_edges(searches, scale, options.edges)
    ]
    return RootTrace(anterior=found[0], posterior=found[1], atrial=found[2])
