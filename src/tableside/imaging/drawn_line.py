"""A line without colour that a machine drew across a tracing: its electrocardiogram.

Echoes are grey too. Ink is told from them by four things at once: it is sharp (three pixels
beside it nothing of it is left), it has one brightness, it runs through every column, and it
rests on a level from which it leaves in short spikes.
"""

import cv2
import numpy as np

from tableside.imaging.ecg import EcgOptions, cheapest_rows
from tableside.imaging.types import Bools, Floats, Ints, Pixels

DARKEST = 170  # no machine draws in a darker grey, of 255
SHARP = 50  # an ink pixel is brighter than all that lies 3 or 4 pixels beside it by this much
ONE_INK = 12  # greys from the usual brightness that are still the same ink
SEEN_SHARE = 0.93  # of the columns in which the line is seen
KNOWN_SHARE = 0.8  # the same where the course was found by other means
SAME_SHARE = 0.7  # of the columns in which it has its usual brightness
BLOB_PX = 9  # what is thicker than this in both directions is no stroke
THIN_PX = 2  # half the thickness of a line, rounded up
SPIKE_PX = 5.0  # the least height of its spikes
LONGEST_SPIKE = 0.12  # of the width, that the line may be away from its level at a time
SPIKES_SHARE = 0.2  # of the width, that it may be away in all; a wall is away for longer
STROKES = 0.8  # of the pixels between the rows of neighbouring columns that are bright
FOLLOW = EcgOptions(jump_cost=0.2)  # ink does not end, so no path hops over the dark
CANDIDATES = 3  # lines that are looked at; echoes of the skin and a frame are straight


def colourless_line(grey: Pixels) -> Bools | None:
    """Return which pixels belong to a drawn line, or None where there is none.

    Parameters
    ----------
    grey : (rows, columns)
        Brightness 0 to 255; 0 where the picture is coloured.
    """
    sharp = _sharpness(grey)
    bright = (grey >= DARKEST) & (sharp >= SHARP)
    square = np.ones((BLOB_PX, BLOB_PX), np.uint8)
    thin = cv2.subtract(grey, cv2.morphologyEx(grey, cv2.MORPH_OPEN, square)) >= SHARP
    for _ in range(CANDIDATES):
        ink = _ink(grey, bright)
        if ink is None:
            return None
        strokes = thin & _is_ink(grey, int(np.median(grey[ink])))
        share = np.select([ink, strokes, bright], [1.0, 0.6, 0.3])
        rows = cheapest_rows(share, FOLLOW).astype(np.int64)
        near = _beside(rows, grey.shape)
        seen = (near & (bright | strokes)).any(axis=0).mean()
        same = (near & ink).any(axis=0).mean()
        if seen >= SEEN_SHARE and same >= SAME_SHARE and _drawn_share(rows, grey) >= STROKES:
            line = _whole_line(near, strokes)
            if _has_spikes(line):
                return line
        bright &= ~near
    return None


def line_along(grey: Pixels, rows: Floats) -> Bools | None:
    """Return which pixels belong to a drawn line whose course was found, None for an echo.

    Parameters
    ----------
    grey : (rows, columns)
        Brightness 0 to 255; 0 where the picture is coloured.
    rows : (columns,)
        Row of the line, NaN where it is not known.
    """
    known = np.isfinite(rows)
    if not known.any():
        return None
    course = np.interp(np.arange(rows.size), np.flatnonzero(known), rows[known])
    inside = (course >= 0) & (course < grey.shape[0])
    near = _beside(np.round(course).astype(np.int64), grey.shape) & inside
    is_sharp = (near & (_sharpness(grey) >= SHARP)).any(axis=0)
    if inside.mean() < 0.5 or is_sharp[inside].mean() < KNOWN_SHARE or not _has_spikes(near):
        return None
    level = 0.8 * float(np.median(np.where(near, grey, 0).max(axis=0)[inside]))
    square = np.ones((BLOB_PX, BLOB_PX), np.uint8)
    thin = cv2.subtract(grey, cv2.morphologyEx(grey, cv2.MORPH_OPEN, square)) >= SHARP
    return _whole_line(near, thin & (grey >= level))


def _sharpness(grey: Pixels) -> Floats:
    """Return how much brighter a pixel is than all beside it, up and down or left and right."""
    beside = np.array([1, 1, 0, 0, 0, 0, 0, 1, 1], np.uint8)
    down = cv2.dilate(grey, beside[:, None])
    across = cv2.dilate(grey, beside[None])
    return np.asarray(grey.astype(np.int16) - np.minimum(down, across))


def _ink(grey: Pixels, bright: Bools) -> Bools | None:
    """Return the sharp pixels of the one brightness that is there in the most columns."""
    best, most = None, SAME_SHARE
    for level in range(DARKEST + ONE_INK, 256, ONE_INK // 2):
        ink = bright & _is_ink(grey, level)
        there = float(ink.any(axis=0).mean())
        if there > most + 0.02 or (best is None and there >= most):
            best, most = ink, there
    return best


def _is_ink(grey: Pixels, level: int) -> Bools:
    return np.asarray(np.abs(grey.astype(np.int16) - level) <= ONE_INK)


def _beside(rows: Ints, shape: tuple[int, ...]) -> Bools:
    """Return the band of a path, with the strokes between its columns."""
    padded = np.pad(rows, 1, mode="edge")
    three = np.stack([padded[:-2], padded[1:-1], padded[2:]])
    every = np.arange(shape[0])[:, None]
    return np.asarray(
        (every >= three.min(axis=0) - THIN_PX) & (every <= three.max(axis=0) + THIN_PX)
    )


def _has_spikes(line: Bools) -> bool:
    """Return whether the line leaves its level at least twice, each time soon to return."""
    top = line.argmax(axis=0)
    bottom = line.shape[0] - 1 - line[::-1].argmax(axis=0)
    level = np.median((top + bottom) / 2)
    away = np.maximum(level - top, bottom - level) - THIN_PX - 1
    spike = float(np.quantile(away, 0.995))
    if spike < SPIKE_PX:
        return False
    is_away = away > 0.5 * spike
    edges = np.flatnonzero(np.diff(np.pad(is_away.astype(np.int8), 1)))
    lengths = edges[1::2] - edges[::2]
    is_short = lengths.size > 1 and bool(lengths.max() <= LONGEST_SPIKE * away.size)
    return is_short and float(is_away.mean()) <= SPIKES_SHARE


def _drawn_share(rows: Ints, grey: Pixels) -> float:
    """Return how much is bright of what lies between the rows of neighbouring columns.

    A path that hops from one echo to another crosses darkness.
    """
    low, high = np.minimum(rows[1:], rows[:-1]), np.maximum(rows[1:], rows[:-1])
    steep = np.flatnonzero(high - low > 2 * THIN_PX)
    every = np.arange(grey.shape[0])[:, None]
    between = (every > low[steep]) & (every < high[steep])
    lit = np.maximum(grey[:, steep], grey[:, steep + 1]) >= DARKEST
    return float(lit[between].mean()) if between.any() else 1.0


def _whole_line(near: Bools, strokes: Bools) -> Bools:
    """Add the strokes that hang together with the path."""
    _, pieces = cv2.connectedComponents(strokes.astype(np.uint8), connectivity=8)
    touched = np.unique(pieces[near & strokes])
    line = near | np.isin(pieces, touched[touched > 0])
    return np.asarray(cv2.dilate(line.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0)
