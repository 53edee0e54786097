"""Running means and medians of one line of values; a median over scipy costs its import."""

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tableside.imaging.types import Floats


def running_median(values: Floats, width: int) -> Floats:
    """Return the median of ``width`` values around each; the ends are carried on."""
    padded = np.pad(values, (width // 2, (width - 1) // 2), mode="edge")
    return np.asarray(np.median(sliding_window_view(padded, width), axis=-1))


def gaussian(values: Floats, sigma: float) -> Floats:
    """Return the values blurred by a Gaussian; the ends are carried on."""
    row = np.ascontiguousarray(values, dtype=np.float64)[None, :]
    blurred = cv2.GaussianBlur(row, (0, 0), sigmaX=sigma, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(blurred[0], dtype=np.float64)


def running_mean(values: Floats, width: int) -> Floats:
    """Return the mean of ``width`` values around each; beyond the ends lies zero."""
    return np.asarray(np.convolve(values, np.full(width, 1 / width), mode="same"))
