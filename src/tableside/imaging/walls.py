"""The walls of the left ventricle on an M-mode: four interfaces in every column.

The layers are found first, coarsely and all together (`layers`); then each interface is
followed to a fraction of a row (`edges`), and moved from where grey has risen by half to where
the echo begins (`pulse`).
"""

from dataclasses import dataclass, field, replace

import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.edges import Edge, EdgeOptions, EdgeSearch, line_thickness, refine_edges
from tableside.imaging.false_lines import FalseLine, behind_false_lines
from tableside.imaging.interface import Interface, Judge
from tableside.imaging.layers import LayerOptions, Layers, find_layers
from tableside.imaging.mmode_grey import Greys, MmodeGrey, mmode_grey
from tableside.imaging.pulse import half_rise_shift_cm, pulse_sigma_cm
from tableside.imaging.types import Bools, Floats, Pixels

WHITE = 250  # grey from which a pixel is saturated, of 255
NEVER = np.inf  # a contrast that no edge reaches


@dataclass(frozen=True, slots=True, kw_only=True)
class WallOptions:
    """How the walls are traced. Change these, not the code."""

    layers: LayerOptions = field(default_factory=LayerOptions)
    edges: EdgeOptions = field(default_factory=EdgeOptions)
    loose_line_cm: float = 0.05  # how far the pericardium may lie from its coarse line
    least_contrast: float = 0.30  # step of grey, in shares of muscle minus blood
    least_line: float = 0.25  # the same at the pericardium, in shares of bright minus muscle
    white_sd_cm: float = 0.3  # sd of the pericardium in tissue that is all white
    most_white: float = 0.3  # share of white tissue from which the pericardium cannot be told


@dataclass(frozen=True, slots=True, kw_only=True)
class WallTrace:
    """Four interfaces of the left ventricle.

    ``other_endocardium`` is a second line that could be the endocardium, with NaN in the
    columns that have none. ``pulse_cm`` is the width of the pulse that the picture shows;
    ``line_cm`` the thickness of the septum's left surface, None where it cannot be told from
    the muscle. ``blood`` is its grey and ``contrast`` that of muscle
    above it, 0 to 255.
    """

    septum_right: Interface
    septum_left: Interface
    endocardium: Interface
    epicardium: Interface
    other_endocardium: Floats
    filled: Bools
    pulse_cm: float
    line_cm: float | None
    contrast: float
    blood: float
    cm_per_row: float
    s_per_column: float

    @property
    def cavity_px(self) -> Floats:
        """Left-ventricular cavity in rows, leading edge to leading edge."""
        return self.endocardium.leading - self.septum_left.leading

    @property
    def is_ambiguous(self) -> Bools:
        """Columns in which a second line could be the endocardium."""
        return np.isfinite(self.other_endocardium)


def trace_walls(
    mmode: Pixels | MmodeGrey,
    *,
    cm_per_row: float,
    s_per_column: float,
    options: WallOptions | None = None,
) -> WallTrace:
    """Trace the walls of the left ventricle.

    Parameters
    ----------
    mmode : (rows, columns) or (rows, columns, 3), or MmodeGrey
        The region of the tracing alone, grey or RGB, 0 to 255.
    cm_per_row, s_per_column : float
        Its scale.
    options : WallOptions, optional

    Returns
    -------
    WallTrace

    Raises
    ------
    NotMeasurable
        When the region is too small, has no contrast, or holds no pair of walls.
    """
    options = options or WallOptions()
    picture = mmode_grey(mmode)
    top = picture.skin_row
    grey = picture.grey[top:]
    if picture.filled.mean() < 0.2:
        raise NotMeasurable("the M-mode region is empty in more than four columns of five")
    layers = find_layers(
        grey, cm_per_row=cm_per_row, s_per_column=s_per_column, options=options.layers
    )
    scale = (cm_per_row, s_per_column)
    found = _refine(grey, layers, scale, options)
    return _assemble(found, (grey, picture.filled, top), layers, scale, options)


@dataclass(frozen=True, slots=True)
class _Found:
    """Refined edges before the correction for blur."""

    septum_right: Edge
    septum_left: Edge  # far flank
    endocardium: Edge
    epicardium: Edge
    false: FalseLine


def _refine(
    grey: Greys, layers: Layers, scale: tuple[float, float], options: WallOptions
) -> _Found:
    wall = (layers.blood, layers.tissue)
    last = grey.shape[0] - 1
    right, far, front, epicardium = refine_edges(
        [
            EdgeSearch(grey, layers.rows[1], wall),
            EdgeSearch(grey[::-1], last - layers.rows[2], wall),
            EdgeSearch(grey, layers.rows[3], wall),
            EdgeSearch(
                grey, layers.rows[4], (layers.tissue, layers.bright), options.loose_line_cm
            ),
        ],
        scale,
        options.edges,
    )
    false = behind_false_lines(grey, (front, epicardium.row), wall, scale, options.edges)
    return _Found(
        septum_right=right,
        septum_left=replace(far, row=last - far.row),
        endocardium=false.endocardium,
        epicardium=epicardium,
        false=false,
    )


def _assemble(
    found: _Found,
    picture: tuple[Greys, Bools, int],
    layers: Layers,
    scale: tuple[float, float],
    options: WallOptions,
) -> WallTrace:
    """Correct for blur, bring the rows back to the whole region and judge each column."""
    grey, filled, top = picture
    cm_per_row, s_per_column = scale
    inset = 0.08 / cm_per_row
    muscle = (found.endocardium.row + inset, found.epicardium.row - inset)
    pulse_cm = pulse_sigma_cm(grey, *muscle, cm_per_row)
    shift = half_rise_shift_cm(pulse_cm) / cm_per_row
    step = layers.tissue - layers.blood
    white = _white_share(grey, layers)
    blind_px = options.white_sd_cm * white / cm_per_row
    line_cm = line_thickness(grey, found.septum_left.row, cm_per_row, pulse_cm, step)
    far = found.septum_left.row - shift
    judge = Judge(filled, top, cm_per_row)
    least = options.least_contrast
    left = judge(found.septum_left, far - (line_cm or 0.0) / cm_per_row, least)
    return WallTrace(
        septum_right=judge(found.septum_right, found.septum_right.row + shift, least),
        septum_left=replace(left, trailing=far + top),
        endocardium=judge(found.endocardium, found.endocardium.row + shift, least),
        epicardium=judge(
            replace(found.epicardium, sd_px=np.hypot(found.epicardium.sd_px, blind_px)),
            found.epicardium.row + shift,
            NEVER if white > options.most_white else options.least_line,
        ),
        other_endocardium=found.false.other + shift + top,
        filled=filled,
        pulse_cm=pulse_cm,
        line_cm=line_cm,
        contrast=step,
        blood=layers.blood,
        cm_per_row=cm_per_row,
        s_per_column=s_per_column,
    )


def _white_share(grey: Greys, layers: Layers) -> float:
    """Return how much of the tissue is as white as the screen goes."""
    tissue = grey > (layers.blood + layers.tissue) / 2
    return float((grey[tissue] > WHITE).mean()) if tissue.any() else 0.0
