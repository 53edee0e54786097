"""The grey picture of an M-mode region, without the lines that the machine drew across it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tableside.imaging.drawn_line import colourless_line, line_along
from tableside.imaging.types import Bools, Floats, Pixels

Greys = NDArray[np.float32]  # (rows, columns), 0 to 255

COLOUR_GAP = 50  # difference of the channels from which a pixel counts as coloured, of 255
TINTED_SHARE = 0.3  # from this share of coloured pixels on, the grey map itself is tinted
LINE_SHARE = 0.8  # of the columns: so many coloured ones hold the line, and none is white
EMPTY_SHARE = 0.02  # share of lit pixels below which a column holds no tracing
SKIN_SHARE = 0.5  # share of lit pixels, on both sides, from which a row is of the tracing
LIT = 20  # grey of a pixel that is lit, of 255


@dataclass(frozen=True, slots=True, kw_only=True)
class MmodeGrey:
    """Brightness 0 to 255 of one M-mode region, and which columns hold a tracing."""

    grey: Greys
    filled: Bools  # (columns,)
    skin_row: int  # first row below an empty band or a small picture above the skin


def mmode_grey(pixels: Pixels | MmodeGrey, line: Floats | None = None) -> MmodeGrey:
    """Turn a region's pixels into grey, and close the gaps that drawn lines leave.

    Parameters
    ----------
    pixels : (rows, columns) or (rows, columns, 3), or MmodeGrey
        Grey or RGB, 0 to 255; what was turned before is given back as it is.
    line : (columns,), optional
        Row of a line that is known to be drawn across the tracing; NaN where it is not.

    Returns
    -------
    MmodeGrey
    """
    if isinstance(pixels, MmodeGrey):
        return pixels
    if pixels.ndim == 2:
        brightest, coloured = pixels, np.zeros(pixels.shape, dtype=np.bool_)
    else:
        brightest = pixels.max(axis=2)
        coloured = brightest - pixels.min(axis=2) > COLOUR_GAP
    drawn = _drawn(brightest, coloured, line)
    grey = brightest.astype(np.float32)
    if drawn.any():
        grey = _close_gaps(grey, drawn)
    lit = grey > LIT
    side = max(1, lit.shape[1] // 5)
    both = np.minimum(lit[:, :side].mean(axis=1), lit[:, -side:].mean(axis=1))
    rows = np.flatnonzero(both > SKIN_SHARE)
    return MmodeGrey(
        grey=grey,
        filled=lit.mean(axis=0) > EMPTY_SHARE,
        skin_row=int(rows[0]) if rows.size else 0,
    )


def _drawn(grey: Pixels, coloured: Bools, known: Floats | None) -> Bools:
    """Return the pixels that were drawn over: those with colour, else a line without."""
    if coloured.mean() >= TINTED_SHARE:
        return np.zeros_like(coloured)
    wide = cv2.dilate(coloured.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    if coloured.any(axis=0).mean() > LINE_SHARE:
        return np.asarray(wide)
    bare = np.where(wide, 0, grey).astype(np.uint8)
    line = colourless_line(bare)
    if line is None and known is not None:
        line = line_along(bare, known)
    return np.asarray(wide if line is None else wide | line)


def _close_gaps(grey: Greys, gap: Bools) -> Greys:
    """Replace gaps by their neighbours along rows and columns, the nearer the more."""
    rows = np.flatnonzero(gap.any(axis=1))
    window = slice(max(rows[0] - 1, 0), rows[-1] + 2)
    closed = grey.copy()
    closed[window] = _close_window(grey[window], gap[window])
    return closed


def _close_window(grey: Greys, gap: Bools) -> Greys:
    down, down_weight = _between(grey, gap)
    across, across_weight = _between(grey.T, gap.T)
    weight = down_weight + across_weight.T
    mixed = (down * down_weight + across.T * across_weight.T) / np.maximum(weight, 1e-9)
    return np.where(gap, mixed, grey).astype(np.float32)


def _between(grey: Greys, gap: Bools) -> tuple[Floats, Floats]:
    """Interpolate gaps along axis 0; the weight is one over the width of the gap."""
    height = grey.shape[0]
    rows = np.arange(height)[:, None]
    before = np.maximum.accumulate(np.where(gap, -1, rows), axis=0)
    after = np.minimum.accumulate(np.where(gap, height, rows)[::-1], axis=0)[::-1]
    has_before, has_after = before >= 0, after < height
    above = np.take_along_axis(grey, np.maximum(before, 0), axis=0)
    below = np.take_along_axis(grey, np.minimum(after, height - 1), axis=0)
    share = np.where(
        has_before & has_after, (rows - before) / np.maximum(after - before, 1), 0.0
    )
    share = np.where(has_before, share, 1.0)
    weight = np.where(has_before | has_after, 1.0 / np.maximum(after - before, 1), 0.0)
    return above * (1 - share) + below * share, weight
