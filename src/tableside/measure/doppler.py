"""Readings of a spectral tracing become measurements: velocities, times, integrals, gradients.

A reading comes in pixels of the tracing (columns, and rows from the baseline); the ruler of
its region turns it into units and image points.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot, sqrt
from statistics import fmean, median, variance
from typing import Any

from tableside.errors import NotMeasurable, OutOfRange, TablesideError
from tableside.measure.average import average
from tableside.model import Beat, Measurement, Point, Region, quantity

SIMPLIFIED_BERNOULLI = 4.0  # mmHg per (m/s)²: half the density of blood (Hatle 1985)
IMPOSSIBLE = "a value that no dog or cat has"
UNLIKE = "unlike the other beats"
LEAST_TO_COMPARE = 3
FARTHEST: Mapping[str, float] = {"velocity": 0.40, "vti": 0.50, "time": 0.45, "gradient": 0.60}
FARTHEST_IRREGULAR = 1.4  # times as far in an irregular rhythm, where beats do differ
HALF_PRESSURE = 1.0 - 1.0 / sqrt(2.0)  # the speed falls by this share while pressure halves


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler:
    """The scales of one tracing: from columns and rows off the baseline to units and points.

    ``left`` is the image column of column 0; ``sign`` is 1 for a flow above the baseline and
    -1 for one below.
    """

    file: str
    frame: int
    region: Region
    left: float
    sign: int

    def point(self, column: float, height_px: float) -> Point:
        """Return the image point of a column and a height."""
        return self.left + column, self.region.baseline_row - self.sign * height_px

    def time_s(self, column: float) -> float:
        """Return the time from the left edge of the tracing."""
        return self.region.seconds_from_left(self.left + column)


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """Whether a beat may be used, and why not."""

    reason: str | None = None

    @property
    def is_used(self) -> bool:
        """Whether it may."""
        return self.reason is None


def velocity_beat(
    ruler: Ruler, at: float, height_px: float, sd_px: float, use: Use = Use()
) -> Beat:
    """Return a speed in m/s: how far a point lies from the baseline."""
    scale = ruler.region.m_s_per_row
    points = (ruler.point(at, height_px),)
    return _beat(ruler, at, (height_px * scale, sd_px * scale), points, use)


def time_beat(
    ruler: Ruler,
    start: tuple[float, float],
    end: tuple[float, float],
    sd_columns: float,
    use: Use = Use(),
) -> Beat:
    """Return a time in ms between two points, each a column and a height."""
    scale = ruler.region.s_per_column * 1000.0
    value = (end[0] - start[0]) * scale
    points = (ruler.point(*start), ruler.point(*end))
    return _beat(ruler, start[0], (value, sd_columns * scale), points, use)


def integral_beat(
    ruler: Ruler,
    span: tuple[float, float],
    area: float,
    area_sd: float,
    use: Use = Use(),
) -> Beat:
    """Return a velocity-time integral in cm from an area in rows times columns."""
    scale = ruler.region.m_s_per_row * ruler.region.s_per_column * 100.0
    points = (ruler.point(span[0], 0.0), ruler.point(span[1], 0.0))
    return _beat(ruler, span[0], (area * scale, area_sd * scale), points, use)


def gradient_beat(
    ruler: Ruler,
    span: tuple[float, float],
    mean_square_px2: float,
    relative_sd: float,
    use: Use = Use(),
) -> Beat:
    """Return a mean gradient in mmHg: the mean of 4 v² over the flow, not 4 times the mean."""
    value = SIMPLIFIED_BERNOULLI * mean_square_px2 * ruler.region.m_s_per_row**2
    points = (ruler.point(span[0], 0.0), ruler.point(span[1], 0.0))
    return _beat(ruler, span[0], (value, 2.0 * relative_sd * value), points, use)


def half_time_beat(
    ruler: Ruler,
    start: tuple[float, float],
    fall_px: float,
    relative_sd: float,
    use: Use = Use(),
) -> Beat:
    """Return a pressure half-time in ms: until the speed has fallen to 1/√2 of its start.

    ``start`` is the column and height at which the straight fall begins; ``fall_px`` is how
    many rows it falls a column.
    """
    columns = HALF_PRESSURE * start[1] / fall_px
    end = (start[0] + columns, start[1] / sqrt(2.0))
    scale = ruler.region.s_per_column * 1000.0
    points = (ruler.point(*start), ruler.point(*end))
    value = columns * scale
    return _beat(ruler, start[0], (value, relative_sd * value), points, use)


def measure_beats(
    quantity_id: str,
    beats: Sequence[Beat],
    region: Region,
    *,
    irregular: bool = False,
    **labels: Any,
) -> Measurement:
    """Average beats into one automatic measurement with the scale of its region.

    Parameters
    ----------
    quantity_id : str
    beats : sequence of Beat
    region : Region
    irregular : bool
        The rhythm is irregular: beats may differ more.
    **labels
        Other fields of `Measurement`: detail, bound, notes.

    Raises
    ------
    NotMeasurable
        When no beat may be used, or most have a value that cannot be.
    OutOfRange
        When the mean is one that no dog or cat has.
    """
    file = beats[0].file if beats else ""
    kept = [_within_range(quantity_id, _on_tracing(beat, region)) for beat in beats]
    if sum(one.reason == IMPOSSIBLE for one in kept) > sum(one.used for one in kept):
        raise NotMeasurable(f"{quantity_id}: most beats give {IMPOSSIBLE}")
    found = average(
        quantity_id,
        without_strays(quantity_id, kept, irregular=irregular),
        method="automatic",
        scale_sd=_scale_sd(quantity(quantity_id).kind, region),
        scale=f"{file}#{region.index}",
        **labels,
    )
    trace = hypot(found.spread.trace, 0.0 if irregular else unexplained_sd(found))
    return replace(found, spread=replace(found.spread, trace=trace))


def unexplained_sd(found: Measurement) -> float:
    """Return how much the beats of a measurement differ beyond trace and nature.

    Beats of one sweep differ by the published variation and by their own trace. When they
    differ more, the reading itself is in doubt, and more beats do not cure that.
    """
    used = [beat for beat in found.beats if beat.used]
    if len(used) < LEAST_TO_COMPARE:
        return 0.0
    nature = quantity(found.quantity).variation.beat * found.value
    expected = nature**2 + fmean(beat.sd**2 for beat in used)
    return sqrt(max(0.0, variance(beat.value for beat in used) - expected))


def measure_or_say(
    quantity_id: str, beats: Sequence[Beat], region: Region, **labels: Any
) -> tuple[Measurement | None, str | None]:
    """Return the measurement, or why there is none."""
    try:
        return measure_beats(quantity_id, beats, region, **labels), None
    except TablesideError as error:
        return None, str(error)


def without_strays(
    quantity_id: str, beats: Sequence[Beat], *, irregular: bool = False
) -> list[Beat]:
    """Return the beats; those that read unlike the middle one of all are not used.

    Beats of one sweep differ by a few percent. One that lies farther off than `FARTHEST` was
    misread, or belongs to another wave. Of two beats neither can be said to be the stray one.
    """
    used = [beat for beat in beats if beat.used]
    if len(used) < LEAST_TO_COMPARE:
        return list(beats)
    middle = median(beat.value for beat in used)
    farthest = FARTHEST.get(quantity(quantity_id).kind, 0.4) * middle
    farthest *= FARTHEST_IRREGULAR if irregular else 1.0
    return [
        replace(beat, used=False, reason=UNLIKE)
        if beat.used and abs(beat.value - middle) > farthest
        else beat
        for beat in beats
    ]


def _on_tracing(beat: Beat, region: Region) -> Beat:
    """Return the beat with its points on the tracing; a flank may be drawn on past its end."""
    left, _, right, _ = region.box
    points = tuple((min(max(x, float(left)), float(right)), y) for x, y in beat.points)
    time_s = None if beat.time_s is None else max(0.0, beat.time_s)
    return replace(beat, points=points, time_s=time_s)


def _within_range(quantity_id: str, beat: Beat) -> Beat:
    """Return the beat, not used when its value is one that no animal has."""
    if not beat.used:
        return beat
    try:
        quantity(quantity_id).require_plausible(beat.value)
    except OutOfRange:
        return Beat(
            file=beat.file, frame=beat.frame, value=beat.value, sd=beat.sd, time_s=beat.time_s,
            points=beat.points, used=False, reason=IMPOSSIBLE,
        )  # fmt: skip
    return beat


def _scale_sd(kind: str, region: Region) -> float:
    velocity_sd = region.y.relative_sd if region.y else 0.0
    time_sd = region.x.relative_sd if region.x else 0.0
    match kind:
        case "velocity":
            return velocity_sd
        case "time":
            return time_sd
        case "gradient":
            return 2.0 * velocity_sd
    return hypot(velocity_sd, time_sd)


def _beat(
    ruler: Ruler, at: float, value: tuple[float, float], points: tuple[Point, ...], use: Use
) -> Beat:
    return Beat(
        file=ruler.file,
        frame=ruler.frame,
        value=value[0],
        sd=value[1],
        time_s=ruler.time_s(at),
        points=points,
        used=use.is_used,
        reason=use.reason,
    )
