"""Reading a traced line at a moment: a parabola through its neighbourhood, never one column."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LocalFit:
    """A parabola through a short stretch of a line."""

    centre: float
    constant: float
    slope: float
    bend: float

    def value(self, column: float) -> float:
        """Return the height of the parabola at a column."""
        away = column - self.centre
        return self.constant + self.slope * away + self.bend * away**2

    def rate(self, column: float) -> float:
        """Return its slope a column."""
        return self.slope + 2 * self.bend * (column - self.centre)


def local_fit(line: Floats, centre: float, half_width: float) -> LocalFit:
    """Fit a parabola to a line around a column by least squares.

    Parameters
    ----------
    line : (columns,)
    centre : float
        Column around which to fit; may lie between columns.
    half_width : float
        Columns on either side; at least two are taken.
    """
    half_width = max(half_width, 2.0)
    first = max(0, int(np.ceil(centre - half_width)))
    last = min(len(line) - 1, int(np.floor(centre + half_width)))
    columns = np.arange(first, last + 1, dtype=np.float64)
    away = columns - centre
    degree = 2 if len(columns) >= 4 else max(len(columns) - 1, 0)
    terms = np.zeros(3)
    terms[: degree + 1] = np.polynomial.polynomial.polyfit(away, line[first : last + 1], degree)
    return LocalFit(centre, float(terms[0]), float(terms[1]), float(terms[2]))


def lowest(line: Floats, first: float, last: float, half_width: float) -> float:
    """Return the column of the least value between two columns, by a parabola.

    Notes
    -----
    The least of noisy columns lies about one and a half standard deviations too low; the line
    is averaged first and the parabola decides.
    """
    smooth = averaged(line, half_width / 2)
    start, stop = max(0, int(np.ceil(first))), min(len(line) - 1, int(np.floor(last)))
    centre = start + int(smooth[start : stop + 1].argmin())
    fit = local_fit(line, centre, half_width)
    if fit.bend <= 0:
        return float(centre)
    vertex = centre - fit.slope / (2 * fit.bend)
    return float(np.clip(vertex, centre - half_width, centre + half_width))


def averaged(line: Floats, sigma: float) -> Floats:
    """Return a line averaged by a bell of that many columns."""
    if sigma < 0.4:
        return line
    reach = int(3 * sigma) + 1
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    padded = np.pad(line, reach, mode="edge")
    return np.asarray(np.convolve(padded, kernel / kernel.sum(), mode="valid"))
