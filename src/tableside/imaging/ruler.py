"""The ruler drawn beside an image: evenly spaced ticks or dots, and how far apart they are.

Every line of pixels near the two edges of a region is looked at by itself: short, evenly spaced
bright runs make a ruler, if a neighbouring line shows the same one. The spacing is the slope of
the line through mark number and position.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.types import Bools, Floats, Ints, Pixels
from tableside.model import Box

Way = Literal["down", "across"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RulerOptions:
    """What counts as a ruler. Change these, not the code.

    The defaults refuse far more than they take: writing, grey bars, dotted cursor lines and
    speckle must never pass for a ruler.
    """

    contrast: int = 50  # grey levels that a mark stands out from the middle of its line
    outside_px: int = 80  # how far beside the box the ruler may stand
    inside_share: float = 0.10  # how far inside the box, as a share of its width
    least_gap_px: float = 6.0
    least_marks: int = 6
    least_span_share: float = 0.5  # of the box
    least_span_px: float = 80.0
    tallest_mark_px: float = 5.0
    most_spread_px: float = 0.7  # standard deviation of the marks about even spacing
    most_odd_share: float = 0.1  # marks between, and marks missing, as a share of the marks
    twin_px: int = 2  # a mark is at least two lines wide: how far away its twin may be


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """Evenly spaced marks along one line of pixels.

    ``spacing_sd_px`` is the standard deviation of the spacing from the fit of a straight line.
    """

    line_px: int  # the column of a ruler that runs down, the row of one that runs across
    spacing_px: float
    spacing_sd_px: float
    marks: int
    first_px: float
    last_px: float

    @property
    def span_px(self) -> float:
        """Distance from the first mark to the last."""
        return self.last_px - self.first_px


def find_rulers(
    pixels: Pixels, box: Box, way: Way = "down", options: RulerOptions = RulerOptions()
) -> tuple[Ruler, ...]:
    """Find the rulers beside a calibrated part of an image.

    Parameters
    ----------
    pixels : (rows, columns) or (rows, columns, 3)
    box : left, top, right, bottom
        The part of the image, inclusive.
    way : ``down`` or ``across``
        Whether the marks follow each other down the image (depth, velocity) or across (time).
    options : RulerOptions

    Returns
    -------
    tuple of Ruler
        One for each spacing, the most marks first.

    Raises
    ------
    NotMeasurable
        When no evenly spaced marks stand out clearly.
    """
    left, top, right, bottom = box
    if way == "across":
        pixels, (left, top, right, bottom) = pixels.swapaxes(0, 1), (top, left, bottom, right)
    start, stop = max(0, top - 2), min(pixels.shape[0], bottom + 3)
    lines = _lines(left, right, pixels.shape[1], options)
    found = [
        ruler
        for line, centres in _marks(_grey(pixels[start:stop][:, lines]), lines, options)
        if (ruler := _ruler(line, centres + start, bottom - top + 1, options)) is not None
    ]
    rulers = _with_twins(found, options)
    if not rulers:
        raise NotMeasurable("no ruler was found beside the image")
    return rulers


def _grey(pixels: Pixels) -> Pixels:
    if pixels.ndim == 2:
        return pixels
    red, green, blue = np.moveaxis(pixels, -1, 0)  # three times as fast as max(axis=2)
    return np.asarray(np.maximum(np.maximum(red, green), blue), dtype=np.uint8)


def _lines(left: int, right: int, size: int, options: RulerOptions) -> Ints:
    """Return the lines of pixels near the two edges of the box."""
    inside = round((right - left + 1) * options.inside_share)
    near_left = np.arange(left - options.outside_px, left + inside)
    near_right = np.arange(right - inside + 1, right + options.outside_px + 1)
    both = np.unique(np.concatenate((near_left, near_right)))
    return both[(both >= 0) & (both < size)]


def _marks(strip: Pixels, lines: Ints, options: RulerOptions) -> list[tuple[int, Floats]]:
    """Return the centres of the bright runs of each line that could be a ruler."""
    middle = np.partition(strip, len(strip) // 2, axis=0)[len(strip) // 2].astype(np.int16)
    bright: Bools = strip > np.minimum(middle + options.contrast, 255)
    edges = np.diff(np.pad(bright, ((1, 1), (0, 0))).view(np.int8), axis=0)
    counts = (edges == 1).sum(axis=0)
    most = strip.shape[0] / options.least_gap_px
    chosen = np.flatnonzero((counts >= options.least_marks) & (counts <= most))
    marks = []
    for column in chosen:
        begins = np.flatnonzero(edges[:, column] == 1)
        ends = np.flatnonzero(edges[:, column] == -1)
        if np.median(ends - begins) <= options.tallest_mark_px:
            marks.append((int(lines[column]), (begins + ends - 1) / 2))
    return marks


def _ruler(line: int, centres: Floats, extent: int, options: RulerOptions) -> Ruler | None:
    """Fit even spacing to the marks of one line; None when they are not a ruler."""
    numbers = _numbered(centres, options)
    if numbers is None:
        return None
    on = ~np.isnan(numbers)
    number, place = numbers[on], centres[on]
    spacing, origin = np.polyfit(number, place, 1)
    spread = float(np.std(place - origin - spacing * number))
    first, last = float(place[0]), float(place[-1])
    between = int(((centres > first) & (centres < last) & ~on).sum())
    missing = int(number[-1] - number[0] + 1 - len(number))
    if (
        spread > options.most_spread_px
        or between + missing > options.most_odd_share * len(number)
        or last - first < max(options.least_span_share * extent, options.least_span_px)
    ):
        return None
    about = float(np.sqrt(((number - number.mean()) ** 2).sum()))
    return Ruler(
        line_px=line,
        spacing_px=float(spacing),
        spacing_sd_px=max(spread, 0.29) / about,  # marks are drawn on whole pixels: 1/sqrt(12)
        marks=len(number),
        first_px=first,
        last_px=last,
    )


def _numbered(centres: Floats, options: RulerOptions) -> Floats | None:
    """Return the number of each mark, NaN for those off the even spacing; None without one."""
    gaps = np.diff(centres)
    usual = gaps[np.abs(gaps - np.median(gaps)) <= 1.5]
    if len(usual) < options.least_marks - 1 or usual.mean() < options.least_gap_px:
        return None
    spacing = float(usual.mean())
    anchor = float(centres[int(np.argmin(np.abs(gaps - spacing)))])
    numbers = np.round((centres - anchor) / spacing)
    for _ in range(2):  # the first fit is good enough to number all marks, the second to use
        on = np.abs(centres - anchor - numbers * spacing) <= 2 * options.most_spread_px
        if on.sum() < options.least_marks or len(np.unique(numbers[on])) < on.sum():
            return None
        spacing, anchor = np.polyfit(numbers[on], centres[on], 1)
        numbers = np.round((centres - anchor) / spacing)
    return np.where(on, numbers, np.nan)


def _with_twins(found: list[Ruler], options: RulerOptions) -> tuple[Ruler, ...]:
    """Keep one ruler a spacing, where a neighbouring line shows the same marks."""
    kept: list[Ruler] = []
    for one in sorted(found, key=lambda ruler: (-ruler.marks, ruler.spacing_sd_px)):
        has_twin = any(
            0 < abs(other.line_px - one.line_px) <= options.twin_px and _is_same(one, other)
            for other in found
        )
        if has_twin and not any(_is_same(one, other) for other in kept):
            kept.append(one)
    return tuple(kept)


def _is_same(one: Ruler, other: Ruler) -> bool:
    return abs(one.spacing_px / other.spacing_px - 1) < 0.005
