"""The annulus of a valve on an M-mode from the apex: where muscle ends and the atrium begins.

The excursion is the way of one line, so either side of the annulus serves. The far side is
traced, for behind it there is nothing but blood.
"""

from dataclasses import dataclass, field, replace

from tableside.imaging.edges import EdgeOptions, EdgeSearch, refine_edges
from tableside.imaging.interface import Interface, Judge
from tableside.imaging.layers import LayerModel, LayerOptions, find_layers
from tableside.imaging.mmode_grey import MmodeGrey, mmode_grey
from tableside.imaging.types import Pixels

FAR_SIDE = 2  # boundary of the layer model
FROM_APEX = LayerModel(
    layers=("before", "blood", "muscle", "blood", "beyond"),
    edges=("faint fall", "rise", "fall", "rise"),
    thinnest_cm=(0.05, 0.25, 0.35),
    thickest_cm=(20.0, 20.0, 20.0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class AnnulusOptions:
    """How the annulus is traced. Change these, not the code."""

    layers: LayerOptions = field(
        default_factory=lambda: LayerOptions(model=FROM_APEX, line_in_blood=3.0)
    )
    edges: EdgeOptions = field(default_factory=EdgeOptions)
    least_contrast: float = 0.30


def trace_annulus(
    mmode: Pixels | MmodeGrey,
    *,
    cm_per_row: float,
    s_per_column: float,
    options: AnnulusOptions | None = None,
) -> Interface:
    """Trace the side of an annulus that faces the atrium.

    Parameters
    ----------
    mmode : (rows, columns) or (rows, columns, 3), or MmodeGrey
        The region of the tracing alone.
    cm_per_row, s_per_column : float
        Its scale.
    options : AnnulusOptions, optional

    Raises
    ------
    NotMeasurable
        When the region is too small or has no contrast.
    """
    options = options or AnnulusOptions()
    picture = mmode_grey(mmode)
    top = picture.skin_row
    grey = picture.grey[top:]
    layers = find_layers(
        grey, cm_per_row=cm_per_row, s_per_column=s_per_column, options=options.layers
    )
    last = grey.shape[0] - 1
    search = EdgeSearch(grey[::-1], last - layers.rows[FAR_SIDE], (layers.blood, layers.tissue))
    (found,) = refine_edges([search], (cm_per_row, s_per_column), options.edges)
    edge = replace(found, row=last - found.row)
    return Judge(picture.filled, top, cm_per_row)(edge, edge.row, options.least_contrast)
