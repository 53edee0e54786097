"""Lines in front of the free wall that are not its surface: chordae and papillary muscle.

A line with blood behind it is not the endocardium: behind the endocardium there is muscle
down to the pericardium. Both lines are kept.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tableside.imaging.edges import Edge, EdgeOptions, EdgeSearch, refine_edges, straighten
from tableside.imaging.mmode_grey import Greys
from tableside.imaging.types import Bools, Floats

GAP_CM = 0.07  # thinnest gap of blood that counts
DARK = -0.55  # share from which a gap is blood: -1 blood, 1 muscle
LINE_CM = 0.05  # a line is no thinner on a picture
THICKEST_CM = 0.5  # no papillary muscle or chorda reaches deeper before its gap
BEFORE_PERICARDIUM_CM = 0.15  # the thinnest free wall behind a gap
SHORTEST_S = 0.05  # a gap that lasts less is speckle


@dataclass(frozen=True, slots=True, kw_only=True)
class FalseLine:
    """The endocardium, and the line before it where there is one (else NaN)."""

    endocardium: Edge
    other: Floats


def behind_false_lines(
    grey: Greys,
    found: tuple[Edge, Floats],
    levels: tuple[float, float],
    scale: tuple[float, float],
    options: EdgeOptions,
) -> FalseLine:
    """Look for blood between the line that was taken for the endocardium and the pericardium.

    Parameters
    ----------
    grey : (rows, columns)
    found : Edge, (columns,)
        The line that was taken for the endocardium; the row of the pericardium.
    levels, scale, options
        As for `refine_edges`.
    """
    front, epicardium = found
    gap, is_gap = _gaps(grey, front.row, epicardium, (levels, scale))
    nothing = np.full(front.row.shape, np.nan)
    if not is_gap.any():
        return FalseLine(endocardium=front, other=nothing)
    line = np.where(is_gap, gap + 0.5 * GAP_CM / scale[0], front.row)
    (behind,) = refine_edges([EdgeSearch(grey, line, levels)], scale, options)
    deeper = is_gap & (behind.row > gap)
    return FalseLine(
        endocardium=Edge(
            row=np.where(deeper, behind.row, front.row),
            sd_px=np.where(deeper, behind.sd_px, front.sd_px),
            contrast=np.where(deeper, behind.contrast, front.contrast),
        ),
        other=np.where(deeper, front.row, nothing),
    )


def _gaps(
    grey: Greys,
    front: Floats,
    epicardium: Floats,
    setting: tuple[tuple[float, float], tuple[float, float]],
) -> tuple[Floats, Bools]:
    """Return the row of the middle of the darkest gap, and where there is one."""
    (blood, tissue), (cm_per_row, s_per_column) = setting
    wall = epicardium - front - BEFORE_PERICARDIUM_CM / cm_per_row
    room = np.minimum(wall, (THICKEST_CM + GAP_CM) / cm_per_row)
    depth = int(max(room.max(), 0)) + 1
    size = max(1, round(GAP_CM / cm_per_row))
    first = max(1, round(LINE_CM / cm_per_row))
    if depth < first + size:
        return front, np.zeros(front.shape, dtype=np.bool_)
    raw = straighten(grey, front, range(first, depth + size))
    flat = cv2.GaussianBlur(raw, (0, 0), sigmaX=max(0.01 / s_per_column, 0.5), sigmaY=0.1)
    share = np.clip((flat - (blood + tissue) / 2) / ((tissue - blood) / 2), -1.5, 1.5)
    mean = sliding_window_view(share, size, axis=0).mean(axis=-1)
    start = np.arange(first, first + mean.shape[0])[:, None]
    mean = np.where(start + size <= room, mean, 1.0)
    darkest = mean.argmin(axis=0)
    is_dark = mean.min(axis=0) < DARK
    shortest = max(1, round(SHORTEST_S / s_per_column)) | 1
    kept = cv2.morphologyEx(
        is_dark.astype(np.uint8)[None], cv2.MORPH_OPEN, np.ones((1, shortest), np.uint8)
    )
    return front + first + darkest + (size - 1) / 2, kept[0] > 0
