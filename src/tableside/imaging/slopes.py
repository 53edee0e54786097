"""Straight falls and rises of a wave: deceleration, half-time, time between two speeds."""

from dataclasses import dataclass

import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.types import Floats, Ints
from tableside.imaging.waves import Curve, Wave

EARLY_HIGH, EARLY_LOW = 0.88, 0.30  # shares of the peak between which E falls straight
LEAST_FALL = 0.30  # of the peak: a shorter fall gives no slope
LONG_START, LONG_STOP = 0.10, 0.15  # of the wave: left out at both ends of a long fall


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """A straight line: height ``height_px`` at ``start``, falling ``per_column``."""

    start: float
    height_px: float
    per_column: float
    relative_sd: float
    last: float  # the last column that lies on it

    def height_at(self, column: float) -> float:
        """Return the height of the line."""
        return self.height_px - (column - self.start) * self.per_column

    @property
    def zero(self) -> float:
        """Where it reaches the baseline."""
        return self.start + self.height_px / self.per_column


def early_fall(curve: Curve, wave: Wave, valley_px: float) -> Fall:
    """Fit the deceleration of an early wave, down to ``valley_px`` at the lowest.

    Raises
    ------
    NotMeasurable
        When too little of the fall is seen, as when the next wave begins on it.
    """
    low = max(EARLY_LOW * wave.peak_px, 1.1 * valley_px)
    high = EARLY_HIGH * wave.peak_px
    if high - low < LEAST_FALL * wave.peak_px:
        raise NotMeasurable("the atrial wave begins on the deceleration of the early one")
    columns = np.arange(round(wave.peak_at), wave.last + 1)
    height = curve.height_px[columns]
    below = np.flatnonzero(height < low)
    stop = int(below[0]) if below.size else height.size
    begin = (
        int(np.flatnonzero(height[:stop] >= high)[-1]) if (height[:stop] >= high).any() else 0
    )
    fall = _line(columns[begin:stop], height[begin:stop], wave)
    if fall.per_column <= 0:
        raise NotMeasurable("the early wave does not fall")
    return fall


def long_fall(curve: Curve, wave: Wave) -> Fall:
    """Fit the slow fall of a diastolic regurgitant jet.

    Raises
    ------
    NotMeasurable
        When the jet is too short for a slope.
    """
    length = wave.last - wave.peak_at
    start = round(wave.peak_at + LONG_START * length)
    stop = round(wave.last - LONG_STOP * length)
    if stop - start < 6:
        raise NotMeasurable("the jet is too short for a slope")
    columns = np.arange(start, stop + 1)
    line = _line(columns, curve.height_px[columns], wave)
    later = np.arange(start, wave.last + 1)
    on_line = curve.height_px[later] >= 0.93 * (
        line.height_px - (later - line.start) * line.per_column
    )
    last = float(later[np.flatnonzero(on_line)[-1]]) if on_line.any() else line.last
    return Fall(
        start=line.start,
        height_px=line.height_px,
        per_column=line.per_column,
        relative_sd=line.relative_sd,
        last=last,
    )


def rise_between(
    curve: Curve, wave: Wave, low_px: float, high_px: float
) -> tuple[float, float]:
    """Return the columns at which the rising flank passes two heights.

    Raises
    ------
    NotMeasurable
        When the wave does not reach the higher one, or the flank does not show the lower.
    """
    if wave.peak_px < 1.1 * high_px:
        raise NotMeasurable("the jet is too slow for the time from 1 to 3 m/s")
    first = max(0, wave.first - 3)
    columns = np.arange(first, round(wave.peak_at) + 1)
    height = curve.height_px[columns]
    places = []
    for level in (low_px, high_px):
        under = np.flatnonzero(height < level)
        if under.size == 0:
            raise NotMeasurable("the start of the jet lies outside the picture")
        i = int(under[-1])
        part = (level - height[i]) / max(height[i + 1] - height[i], 1e-9)
        places.append(float(columns[i] + part))
    return places[0], places[1]


def _line(columns: Floats | Ints, height: Floats, wave: Wave) -> Fall:
    """Fit a line twice, the second time without what lies far off the first."""
    if columns.size < 4:
        raise NotMeasurable("the fall of the wave is too short for a slope")
    x = columns.astype(np.float64)
    keep = np.ones(x.size, dtype=bool)
    for _ in range(2):
        slope, level = np.polyfit(x[keep], height[keep], 1)
        off = height - slope * x - level
        spread = max(float(np.std(off[keep])), 0.5)
        keep = np.abs(off) < 2.5 * spread
    start = float(wave.peak_at)
    span = float(x[-1] - x[0])
    # neighbouring columns share their grain: about every fourth is independent
    slope_sd = spread / max(span, 1.0) * np.sqrt(12.0 / max(x.size / 4, 1.0))
    return Fall(
        start=start,
        height_px=float(level + slope * start),
        per_column=float(-slope),
        relative_sd=float(min(1.0, slope_sd / max(abs(slope), 1e-9))),
        last=float(x[-1]),
    )
