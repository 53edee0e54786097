"""Waves of an envelope: where each begins, peaks and ends, with how well that is known.

Columns count from the left of the tracing, heights in rows from the baseline.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.smooth import running_median
from tableside.imaging.types import Bools, Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class WaveOptions:
    """How a wave is told from the rest. Change these, not the code."""

    median_columns: int = 5  # grain narrower than this is no wave
    floor_quantile: float = 0.30  # the wall filter and wall echoes hold the envelope up here
    floor_share: float = 0.10  # of the highest wave: nothing lower is a wave
    most_floor: float = 0.30
    least_peak: float = 0.22  # of the highest wave
    least_contrast: float = 0.55  # of the tall waves: a fainter edge is none of the flow
    tall: float = 0.7  # of the highest wave
    ghost_height: float = 0.3  # a mirror image is as high as its origin, up to this share
    ghost_contrast: float = 0.8  # and fainter than this share of it
    valley: float = 0.80  # two tops with a valley below this share of the lower are two waves
    least_columns: int = 5
    least_rows: float = 8.0  # a flow lower than this is too small on its scale
    top: float = 0.93  # the peak is a parabola through what lies above this share
    low: float = 0.25  # below this share of the peak the flank is drawn on as a sine
    high: float = 0.85
    upper: float = 0.5  # above this share of the peak no wall echo reaches
    upper_span: float = 0.12  # radians of the sine that the upper flank must cover
    shoulder_columns: float = 1.5  # a point farther off the upper flank is no flank
    shoulder: float = 0.18  # or than this share of the time from the baseline to one radian
    spread_share: float = 0.25  # of the spread of single columns is left in a peak
    blur_share: float = 0.33  # of the width of the edge: what its correction leaves
    pixel_px: float = 0.35
    peak_share: float = 0.006  # of a peak: the sampling of its time and the ways to draw it
    timing_columns: float = 1.2


@dataclass(frozen=True, slots=True)
class Curve:
    """An envelope ready for measuring: height, spread and edge width of every column.

    ``contrast`` is how bright the flow is just inside its edge, as a share of the usual signal.
    """

    height_px: Floats
    sd_px: Floats
    width_px: Floats
    is_click: Bools  # columns bridged because a valve clicks there
    contrast: Floats

    @property
    def columns(self) -> int:
        """How many columns it has."""
        return self.height_px.size


@dataclass(frozen=True, slots=True, kw_only=True)
class Wave:
    """One wave. ``start`` and ``end`` are where its flanks reach the baseline."""

    first: int  # columns that stand above the floor
    last: int
    start: float
    end: float
    peak_at: float
    peak_px: float
    peak_sd_px: float
    start_sd: float
    end_sd: float
    area: float  # rows times columns
    mean_square_px2: float
    is_whole: bool  # begins and ends on the picture
    softness: float  # width of the edge at the top as a share of the peak
    flatness: float  # share of the columns of its upper half that lie near the peak
    contrast: float  # how bright the upper half is inside its edge, share of the signal

    @property
    def columns(self) -> float:
        """How long it lasts."""
        return self.end - self.start

    @property
    def relative_sd(self) -> float:
        """Standard deviation of the peak as a share of it."""
        return self.peak_sd_px / self.peak_px

    @property
    def area_sd(self) -> float:
        """Standard deviation of the area: of its height and of both its ends."""
        ends = 0.25 * self.peak_px * np.hypot(self.start_sd, self.end_sd)
        return float(np.hypot(self.area * self.relative_sd, ends))


def find_waves(curve: Curve, options: WaveOptions = WaveOptions()) -> list[Wave]:
    """Return the waves of an envelope, in order.

    Raises
    ------
    NotMeasurable
        When nothing rises above the floor.
    """
    height = running_median(curve.height_px, options.median_columns)
    highest = float(np.quantile(height, 0.985))
    if highest < options.least_rows:
        raise NotMeasurable("no flow, or one too small for the scale; lower the scale")
    floor = max(
        options.floor_share * highest, 1.2 * float(np.quantile(height, options.floor_quantile))
    )
    floor = min(floor, options.most_floor * highest)
    waves = []
    for first, last in _stretches(height > floor):
        for a, b in _split(height, first, last, options):
            top = float(height[a : b + 1].max())
            if b - a + 1 >= options.least_columns and top >= options.least_peak * highest:
                waves.append(_measure(curve, height, (a, b), options))
    waves = [one for one in waves if one.peak_px >= options.least_rows / 2]
    if not waves:
        raise NotMeasurable("no flow was found on this side of the baseline")
    tall = [one.contrast for one in waves if one.peak_px >= options.tall * highest]
    clear = options.least_contrast * float(np.median(tall)) if tall else 0.0
    return [one for one in waves if one.contrast >= clear]


def without_ghosts(
    waves: Sequence[Wave], across: Sequence[Wave], options: WaveOptions = WaveOptions()
) -> list[Wave]:
    """Return the waves that are no mirror image of a brighter wave on the other side.

    Parameters
    ----------
    waves, across : sequence of Wave
        Of one side and of the other one, their ``contrast`` in the same unit.
    options : WaveOptions
    """
    return [one for one in waves if not any(_is_ghost(one, it, options) for it in across)]


def _is_ghost(one: Wave, other: Wave, options: WaveOptions) -> bool:
    alike = abs(one.peak_px - other.peak_px) < options.ghost_height * other.peak_px
    at_once = other.first <= one.peak_at <= other.last
    return alike and at_once and one.contrast < options.ghost_contrast * other.contrast


def _stretches(
    above: "np.ndarray[tuple[int, ...], np.dtype[np.bool_]]",
) -> list[tuple[int, int]]:
    """Return first and last column of every run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], above.astype(np.int8), [0]))))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _split(
    height: Floats, first: int, last: int, options: WaveOptions
) -> list[tuple[int, int]]:
    """Split a stretch at its deepest valley, again and again."""
    part = height[first : last + 1]
    if part.size < 2 * options.least_columns:
        return [(first, last)]
    before = np.maximum.accumulate(part)
    after = np.maximum.accumulate(part[::-1])[::-1]
    depth = part / np.maximum(np.minimum(before, after), 1e-9)
    valley = int(depth.argmin())
    if depth[valley] > options.valley or not 0 < valley < part.size - 1:
        return [(first, last)]
    at = first + valley
    return _split(height, first, at, options) + _split(height, at, last, options)


def _measure(curve: Curve, height: Floats, ends: tuple[int, int], options: WaveOptions) -> Wave:
    first, last = ends
    peak_at, peak_px, top = _peak(curve.height_px, height, ends, options)
    clear, end, middle = ~curve.is_click, height.size - 1, round(peak_at)
    rise = _flank(height, clear, (first, middle), peak_px, options)
    back = _flank(height[::-1], clear[::-1], (end - last, end - middle), peak_px, options)
    fall = (end - back[0], end - back[1], back[2])
    area, squares = _integrals(height, rise, fall, options.low * peak_px)
    spread = float(curve.sd_px[top].mean()), float(curve.width_px[top].mean())
    upper = np.arange(first, last + 1)[height[first : last + 1] >= peak_px / 2]
    sd = np.sqrt(
        (options.spread_share * spread[0]) ** 2
        + (options.blur_share * spread[1]) ** 2
        + options.pixel_px**2
        + (options.peak_share * peak_px) ** 2
    )
    return Wave(
        first=first,
        last=last,
        start=rise[0],
        end=fall[0],
        peak_at=peak_at,
        peak_px=peak_px,
        peak_sd_px=float(sd),
        start_sd=float(np.hypot(rise[2], options.timing_columns)),
        end_sd=float(np.hypot(fall[2], options.timing_columns)),
        area=area,
        mean_square_px2=squares / max(fall[0] - rise[0], 1.0),
        is_whole=first > 1 and last < height.size - 2,
        softness=spread[1] / max(peak_px, 1.0),
        flatness=float((height[upper] >= options.top * peak_px).mean()) if upper.size else 0.0,
        contrast=float(np.median(curve.contrast[upper])) if upper.size else 0.0,
    )


def _peak(
    raw: Floats, height: Floats, ends: tuple[int, int], options: WaveOptions
) -> tuple[float, float, slice]:
    """Return where and how high the peak is: the top of a parabola through the highest part."""
    first, last = ends
    part = height[first : last + 1]
    at = first + int(part.argmax())
    level = options.top * height[at]
    a, b = at, at
    while a > first and height[a - 1] >= level:
        a -= 1
    while b < last and height[b + 1] >= level:
        b += 1
    top = slice(a, b + 1)
    if b - a < 4:
        return float(at), float(raw[top].mean()) if b > a else float(height[at]), top
    x = np.arange(a, b + 1) - at
    bend, tilt, level_px = np.polyfit(x, raw[top], 2)
    places = np.linspace(x[0], x[-1], 4 * x.size)
    values = np.polyval((bend, tilt, level_px), places)
    best = int(values.argmax())
    return at + float(places[best]), float(values[best]), top


def _flank(
    height: Floats, clear: Bools, span: tuple[int, int], peak_px: float, options: WaveOptions
) -> tuple[float, float, float]:
    """Return where the rising flank leaves the baseline, where it is low, and its doubt.

    A quarter of a sine through the flank between two shares of the peak is drawn on to the
    baseline: below, the wall filter and the echoes of the walls hide the flow. Where these
    make a shoulder that lies off the line through the upper half, the flank ends above it.
    """
    first, peak = span
    at = peak
    while at > first and height[at - 1] > options.low * peak_px:
        at -= 1
    columns = np.arange(at, peak + 1)
    share = height[columns] / peak_px
    stop = int(np.flatnonzero(share > options.high)[0]) if (share > options.high).any() else -1
    columns, share = columns[:stop], share[:stop]
    seen = clear[columns]
    if seen.sum() >= 3:
        columns, share = columns[seen], share[seen]
    angle = np.arcsin(np.clip(share, 0.0, 1.0))
    upper = share >= options.upper
    if upper.sum() < 2 or np.ptp(angle) < options.upper_span:
        # too steep for the columns: the upper flank lies between two of them
        between = float(at + (share < options.upper).sum()) - 0.5
        return between - 0.5, between, 1.0
    angle, places = _without_shoulder(angle, columns.astype(np.float64), upper, options)
    slope, start = np.polyfit(angle, places, 1)
    slope = max(float(slope), 0.0)
    start = float(np.mean(places - slope * angle))
    doubt = float(np.std(places - slope * angle - start)) / np.sqrt(angle.size / 2)
    doubt = max(doubt, 1.0) if angle.size < 4 else doubt
    return start, start + slope * float(np.arcsin(options.low)), doubt


def _without_shoulder(
    angle: Floats, places: Floats, upper: Bools, options: WaveOptions
) -> tuple[Floats, Floats]:
    """Return the points of a flank without those far off the line through its upper half."""
    if np.ptp(angle[upper]) < options.upper_span:
        return angle, places
    slope, start = np.polyfit(angle[upper], places[upper], 1)
    off = np.abs(places - slope * angle - start)
    keep = (off <= max(options.shoulder_columns, options.shoulder * abs(slope))) | upper
    return angle[keep], places[keep]


def _integrals(
    height: Floats,
    rise: tuple[float, float, float],
    fall: tuple[float, float, float],
    low_px: float,
) -> tuple[float, float]:
    """Return the area and the integral of the square, with straight ends below ``low_px``."""
    a, b = max(rise[1], 0.0), min(fall[1], height.size - 1.0)
    if b <= a:
        return 0.0, 0.0
    x = np.linspace(a, b, max(8, int(2 * (b - a))))
    y = np.interp(x, np.arange(height.size), height)
    tails = max(rise[1] - rise[0], 0.0) + max(fall[0] - fall[1], 0.0)
    area = float(np.trapezoid(y, x)) + low_px * tails / 2
    return area, float(np.trapezoid(y**2, x)) + low_px**2 * tails / 3
