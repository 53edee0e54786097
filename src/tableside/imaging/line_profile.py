"""Grey along any straight line of a picture, between the pixels."""

import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.types import Floats, Ints, Pixels
from tableside.model import Point

LEAST_PX = 2.0


def line_samples(start: Point, end: Point) -> Floats:
    """Return points along a line, one for each pixel of its length, both ends among them.

    Returns
    -------
    (samples, 2)
        x and y in pixel centres.

    Raises
    ------
    NotMeasurable
        For a line shorter than two pixels.
    """
    length = float(np.hypot(end[0] - start[0], end[1] - start[1]))
    if length < LEAST_PX:
        raise NotMeasurable("the line is shorter than two pixels; draw it through the heart")
    share = np.linspace(0.0, 1.0, round(length) + 1)[:, None]
    points = np.asarray(start) + share * (np.asarray(end) - np.asarray(start))
    return np.asarray(points, np.float64)


def grey_along(pixels: Pixels, points: Floats) -> Floats:
    """Return the grey at points, bilinear between pixel centres; the edge repeats outside.

    Parameters
    ----------
    pixels : (rows, columns) or (rows, columns, 3)
    points : (samples, 2)
        x and y in pixel centres.

    Returns
    -------
    (samples,)
        0 to 255; of a colour picture the mean of its channels.
    """
    rows, columns = pixels.shape[:2]
    x = np.clip(points[:, 0], 0, columns - 1)
    y = np.clip(points[:, 1], 0, rows - 1)
    left, top = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    right, bottom = np.minimum(left + 1, columns - 1), np.minimum(top + 1, rows - 1)
    across, down = x - left, y - top
    upper = _at(pixels, top, left) * (1 - across) + _at(pixels, top, right) * across
    lower = _at(pixels, bottom, left) * (1 - across) + _at(pixels, bottom, right) * across
    return np.asarray(upper * (1 - down) + lower * down, np.float64)


def _at(pixels: Pixels, rows: Ints, columns: Ints) -> Floats:
    found = pixels[rows, columns].astype(np.float64)
    return np.asarray(found if found.ndim == 1 else found.mean(axis=1), np.float64)
