"""Points in a calibrated region become one value with its standard deviation.

What a person's hand adds is in `CaliperOptions`; where each figure comes from is in
``docs/calipers.md``.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from tableside.errors import NotMeasurable
from tableside.measure.geometry import (
    area,
    crosses_itself,
    disc_volume_mL,
    long_axis,
    perimeter,
)
from tableside.measure.tracing_by_hand import (
    HandTrace,
    Slope,
    hand_trace,
    mean_gradient_mmHg,
    pressure_half_time_ms,
    slope,
    velocity_time_integral_cm,
)
from tableside.model import Axis, Point, Region, RegionKind

M_MODES = (RegionKind.M_MODE, RegionKind.COLOUR_M_MODE)
FLAT = sqrt(12)  # a rounded coordinate is uniform over one pixel
OPEN_SHARE = 0.25  # ends of a trace higher than this share of its peak leave flow out
LEVEL_ROWS = 2.0  # a line flatter than this is a time caliper, not a slope


@dataclass(frozen=True, slots=True, kw_only=True)
class CaliperOptions:
    """How well a person places a point. Change these, not the code."""

    edge_sd_cm: float = 0.03  # one end, along the beam
    lateral_factor: float = 3.0  # across the beam the edge is this much softer
    velocity_sd_px: float = 1.5  # one point on a spectrum
    velocity_share: float = 0.02  # thickness of the spectrum's edge, of the speed
    time_sd_px: float = 1.5  # one point along a tracing
    time_sd_s: float = 0.002
    drift_px: float = 10.0  # a hand that follows an envelope errs alike over this many columns
    drift_cm: float = 1.0  # and along an outline over this length
    foot_share: float = 0.1  # a slope that ends above this share of its peak is extended


@dataclass(frozen=True, slots=True, kw_only=True)
class CaliperValue:
    """One reading: value and sd in the unit of the quantity.

    ``scale_sd`` is how the scale's relative standard deviation reaches the value; ``column``
    is where it was read on a tracing.
    """

    value: float
    sd: float
    scale_sd: float
    column: float
    note: str | None = None


Points = tuple[Point, ...]


def length_cm(region: Region, points: Points, options: CaliperOptions) -> CaliperValue:
    """Distance of two points: in a 2-D image with both scales, on an M-mode depth alone."""
    one, other = points
    x, y = region.x, _axis(region.y)
    along = hypot(y.per_pixel / FLAT, options.edge_sd_cm)
    if region.kind in M_MODES or x is None:
        end_sd, scale_sd = along, y.relative_sd
    else:
        across = hypot(x.per_pixel / FLAT, options.lateral_factor * options.edge_sd_cm)
        width, height = x.span(one[0], other[0]), y.span(one[1], other[1])
        length = hypot(width, height)
        cosine, sine = (height / length, width / length) if length else (1.0, 0.0)
        end_sd, scale_sd = hypot(cosine * along, sine * across), _plane_sd(region)
    return CaliperValue(
        value=region.length_cm(one, other),
        sd=sqrt(2) * end_sd,
        scale_sd=scale_sd,
        column=one[0],
    )


def velocity_m_s(region: Region, points: Points, options: CaliperOptions) -> CaliperValue:
    """Speed at the point farthest from the baseline, without sign."""
    x, row = max(points, key=lambda point: abs(region.velocity_m_s(point[1])))
    value = abs(region.velocity_m_s(row))
    pixel = options.velocity_sd_px * region.m_s_per_row
    return CaliperValue(
        value=value,
        sd=hypot(pixel, options.velocity_share * value),
        scale_sd=_axis(region.y).relative_sd,
        column=x,
    )


def time_ms(region: Region, points: Points, options: CaliperOptions) -> CaliperValue:
    """Time between two points; their rows do not count."""
    columns = [x for x, _ in points]
    return CaliperValue(
        value=1000 * region.time_s(*columns),
        sd=1000 * _interval_sd_s(region, options),
        scale_sd=_axis(region.x).relative_sd,
        column=min(columns),
    )


def heart_rate(region: Region, points: Points, options: CaliperOptions) -> CaliperValue:
    """Beats a minute from one R-R interval."""
    columns = [x for x, _ in points]
    interval_s = region.time_s(*columns)
    if interval_s == 0:
        raise NotMeasurable("both points lie in one column; put them on two R waves")
    rate = 60 / interval_s
    return CaliperValue(
        value=rate,
        sd=rate * _interval_sd_s(region, options) / interval_s,
        scale_sd=_axis(region.x).relative_sd,
        column=min(columns),
    )


def deceleration_time_ms(
    region: Region, points: Points, options: CaliperOptions
) -> CaliperValue:
    """Time from the peak to the baseline along the slope.

    The time between the two points, when the second one is down at the baseline or the line is
    level; from a slope that ends higher, the time until it would reach the baseline.
    """
    if abs(points[0][1] - points[1][1]) <= LEVEL_ROWS:
        return time_ms(region, points, options)
    fall = slope(region, *points)
    if fall.later_m_s <= options.foot_share * fall.peak_m_s:
        return time_ms(region, points, options)
    return CaliperValue(
        value=1000 * fall.time_to(0.0),
        sd=1000 * fall.time_to(0.0) * _slope_share(region, fall, options),
        scale_sd=_axis(region.x).relative_sd,
        column=min(x for x, _ in points),
        note=(
            f"the deceleration line ends at {fall.later_m_s:.2f} m/s and was extended to "
            "the baseline"
        ),
    )


def half_time_ms(region: Region, points: Points, options: CaliperOptions) -> CaliperValue:
    """Pressure half-time from two points on the slope of the jet, the first at its peak."""
    fall = slope(region, *points)
    value = pressure_half_time_ms(fall)
    return CaliperValue(
        value=value,
        sd=value * _slope_share(region, fall, options),
        scale_sd=_axis(region.x).relative_sd,
        column=min(x for x, _ in points),
    )


def integral_cm(region: Region, points: Points, options: CaliperOptions) -> CaliperValue:
    """Velocity-time integral of a traced envelope."""
    trace = hand_trace(region, points)
    value = velocity_time_integral_cm(trace)
    speeds = 100 * trace.duration_s * _drifting_sd_m_s(region, trace, options)
    ends = value * _interval_sd_s(region, options) / trace.duration_s
    return CaliperValue(
        value=value,
        sd=hypot(speeds, ends, options.velocity_share * value),
        scale_sd=hypot(_axis(region.x).relative_sd, _axis(region.y).relative_sd),
        column=min(x for x, _ in points),
        note=_open_ends(trace),
    )


def gradient_mmHg(region: Region, points: Points, options: CaliperOptions) -> CaliperValue:
    """Mean gradient of a traced envelope; a share of the speed counts twice."""
    trace = hand_trace(region, points)
    value = mean_gradient_mmHg(trace)
    mean_m_s = velocity_time_integral_cm(trace) / 100 / trace.duration_s
    share = hypot(
        _drifting_sd_m_s(region, trace, options) / mean_m_s,
        options.velocity_share,
        _interval_sd_s(region, options) / trace.duration_s / 2,
    )
    return CaliperValue(
        value=value,
        sd=2 * share * value,
        scale_sd=2 * _axis(region.y).relative_sd,
        column=min(x for x, _ in points),
        note=_open_ends(trace),
    )


def area_cm2(region: Region, points: Points, options: CaliperOptions) -> CaliperValue:
    """Area inside an outline, closed from the last point to the first."""
    outline = _outline_cm(region, points)
    return CaliperValue(
        value=area(outline),
        sd=perimeter(outline) * _drifting_edge_cm(region, outline, options),
        scale_sd=2 * _plane_sd(region),
        column=points[0][0],
    )


def volume_mL(region: Region, points: Points, options: CaliperOptions) -> CaliperValue:
    """Volume by discs from an outline that starts and ends at the annulus.

    Its standard deviation follows area squared over length, to which a stack of discs is equal
    for an ellipsoid.
    """
    outline = _outline_cm(region, points)
    value = disc_volume_mL(outline)
    edge_cm = _drifting_edge_cm(region, outline, options)
    share = hypot(
        2 * perimeter(outline) * edge_cm / area(outline),
        sqrt(2) * _mixed_edge_cm(region, options) / long_axis(outline).length,
    )
    return CaliperValue(
        value=value,
        sd=share * value,
        scale_sd=3 * _plane_sd(region),
        column=points[0][0],
    )


def _outline_cm(region: Region, points: Points) -> tuple[Point, ...]:
    x, y = _axis(region.x), _axis(region.y)
    if points[0] == points[-1]:
        points = points[:-1]  # drawn back to the start
    outline = tuple((px * abs(x.per_pixel), py * abs(y.per_pixel)) for px, py in points)
    if crosses_itself(outline):
        raise NotMeasurable("the outline crosses itself; trace it again without a loop")
    if area(outline) == 0:
        raise NotMeasurable("the outline encloses nothing; trace it again")
    return outline


def _mixed_edge_cm(region: Region, options: CaliperOptions) -> float:
    """Return the sd of one point of an outline, over all directions of the edge."""
    pixel = hypot(_axis(region.x).per_pixel, _axis(region.y).per_pixel) / sqrt(2) / FLAT
    edge = options.edge_sd_cm * sqrt((1 + options.lateral_factor**2) / 2)
    return hypot(pixel, edge)


def _drifting_edge_cm(
    region: Region, outline: Sequence[Point], options: CaliperOptions
) -> float:
    stretches = max(1.0, min(len(outline), perimeter(outline) / options.drift_cm))
    return _mixed_edge_cm(region, options) / sqrt(stretches)


def _drifting_sd_m_s(region: Region, trace: HandTrace, options: CaliperOptions) -> float:
    columns = trace.duration_s / region.s_per_column
    stretches = max(1.0, min(len(trace.times_s), columns / options.drift_px))
    return options.velocity_sd_px * region.m_s_per_row / sqrt(stretches)


def _interval_sd_s(region: Region, options: CaliperOptions) -> float:
    pixel = options.time_sd_px * region.s_per_column
    return sqrt(2) * hypot(pixel, options.time_sd_s)


def _slope_share(region: Region, fall: Slope, options: CaliperOptions) -> float:
    """Return the relative sd of a time read off a slope: both speeds and the interval."""
    pixel = options.velocity_sd_px * region.m_s_per_row
    drop_m_s = fall.peak_m_s - fall.later_m_s
    from_peak = pixel * fall.later_m_s / (fall.peak_m_s * drop_m_s)
    from_later = pixel / drop_m_s
    return hypot(from_peak, from_later, _interval_sd_s(region, options) / fall.time_s)


def _open_ends(trace: HandTrace) -> str | None:
    if trace.open_share <= OPEN_SHARE:
        return None
    return "the trace does not begin and end at the baseline: part of the flow is left out"


def _plane_sd(region: Region) -> float:
    return max(_axis(region.x).relative_sd, _axis(region.y).relative_sd)


def _axis(axis: Axis | None) -> Axis:
    if axis is None:
        raise NotMeasurable("this part of the image carries no scale")
    return axis
