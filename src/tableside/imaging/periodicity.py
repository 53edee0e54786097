"""How long a beat lasts when there is no ECG: the tracing repeats itself.

Source: common practice; the mean correlation of columns a lag apart has its first tall peak at
the length of a beat.
"""

import cv2
import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.mmode_grey import Greys
from tableside.imaging.types import Floats, Ints

SHORTEST_S, LONGEST_S = 0.22, 1.6  # 270 and 37 beats/min
NEAR_LARGEST = 0.01  # share of the largest cavity that counts as largest
CLOSEST = 0.55  # of a beat: contractions are no nearer to each other
LEAST_FALL = 0.45  # of the usual speed at which the cavity shrinks
LEAST_PEAK = 0.15  # height of the peak over the valley before it
ALMOST = 0.8  # a peak this high against the tallest is the beat, a later one two beats


def beat_length_s(mmode: Greys, s_per_column: float) -> float:
    """Return the length of a beat from the tracing alone.

    Parameters
    ----------
    mmode : (rows, columns)
        Grey of the tracing.
    s_per_column : float

    Raises
    ------
    NotMeasurable
        When the tracing is shorter than two beats or does not repeat itself.
    """
    columns = mmode.shape[1]
    longest = min(round(LONGEST_S / s_per_column), columns // 2)
    shortest = max(2, round(SHORTEST_S / s_per_column))
    if longest <= shortest + 2:
        raise NotMeasurable("the tracing is too short to find its beats without an ECG")
    alike = _likeness(mmode, longest)
    lags = np.arange(len(alike))
    inner = alike[1:-1]
    is_peak = (inner >= alike[:-2]) & (inner > alike[2:]) & (lags[1:-1] >= shortest)
    peaks = lags[1:-1][is_peak]
    valley = np.minimum.accumulate(alike)
    rises = alike[peaks] - valley[peaks]
    if peaks.size == 0 or rises.max() < LEAST_PEAK:
        raise NotMeasurable("the tracing does not repeat itself; beats cannot be told apart")
    first = int(peaks[rises >= ALMOST * rises.max()][0])
    before, here, after = alike[first - 1 : first + 2]
    bend = before - 2 * here + after
    offset = 0.5 * (before - after) / bend if bend < 0 else 0.0
    return float((first + offset) * s_per_column)


def _likeness(mmode: Greys, longest: int) -> Floats:
    """Return the mean correlation of columns for every lag."""
    rows = min(mmode.shape[0], 120)
    small = cv2.resize(
        mmode.astype(np.float32), (mmode.shape[1], rows), interpolation=cv2.INTER_AREA
    )
    small = cv2.GaussianBlur(small, (0, 0), 1.0).astype(np.float64)
    small = small - small.mean(axis=1, keepdims=True)
    small /= np.linalg.norm(small, axis=0) + 1e-9
    return np.array(
        [
            float(np.einsum("ij,ij->", small[:, : small.shape[1] - lag], small[:, lag:]))
            / (small.shape[1] - lag)
            for lag in range(longest + 1)
        ]
    )


def contractions(cavity: Floats, apart: float) -> Ints:
    """Return the columns at which the cavity shrinks fastest, one a contraction.

    Parameters
    ----------
    cavity : (columns,)
        Size of the left ventricle.
    apart : float
        Fewest columns between two contractions.

    Notes
    -----
    A fall less than half as steep as the usual one is none: a long diastole wanders too.
    """
    rate = np.gradient(_smooth(cavity, 0.08 * apart))
    inner = rate[1:-1]
    lows = 1 + np.flatnonzero((inner <= rate[:-2]) & (inner < rate[2:]) & (inner < 0))
    kept: list[int] = []
    for column in lows[np.argsort(rate[lows])]:
        if all(abs(column - other) >= apart for other in kept):
            kept.append(int(column))
    steep = -rate[kept]
    usual = float(np.median(steep[: -(-len(kept) // 2)])) if kept else 0.0
    return np.sort(np.array(kept, dtype=np.int64)[steep >= LEAST_FALL * usual])


def beat_starts(cavity: Floats, beat_columns: float) -> Floats:
    """Return the columns at which the cavity is largest, one a beat.

    Parameters
    ----------
    cavity : (columns,)
        Size of the left ventricle.
    beat_columns : float
        Length of a beat.

    Notes
    -----
    The cavity shrinks fast after its largest size; the start of the fall is sought: the last
    column, before the steepest fall, that is within 1 % of the largest in that beat.
    """
    smooth = _smooth(cavity, 0.03 * beat_columns)
    falls = contractions(cavity, CLOSEST * beat_columns)
    starts = [_start_of_fall(smooth, int(fall), beat_columns) for fall in falls]
    return np.unique(np.array(starts, dtype=np.float64))


def _smooth(cavity: Floats, sigma: float) -> Floats:
    blurred = cv2.GaussianBlur(
        cavity[None].astype(np.float64), (0, 0), sigmaX=max(sigma, 0.6),
        borderType=cv2.BORDER_REFLECT,
    )  # fmt: skip
    return np.asarray(blurred[0], dtype=np.float64)


def _start_of_fall(cavity: Floats, fall: int, beat_columns: float) -> int:
    first = max(0, int(fall - 0.3 * beat_columns))
    size = cavity[first : fall + 1]
    near = np.flatnonzero(size >= size.max() - NEAR_LARGEST * abs(size.max()))
    return first + int(near[-1])
