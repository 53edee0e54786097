"""A line that a person drew on a spectrum: along the envelope, or down one slope of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

from tableside.errors import NotMeasurable
from tableside.model import Point, Region

OTHER_SIDE = 0.25  # share of the peak that may lie on the other side of the baseline


@dataclass(frozen=True, slots=True)
class HandTrace:
    """The envelope as drawn: times from the left edge, and speeds without sign."""

    times_s: tuple[float, ...]
    speeds_m_s: tuple[float, ...]

    @property
    def duration_s(self) -> float:
        """Time from the first to the last moment of the trace."""
        return max(self.times_s) - min(self.times_s)

    @property
    def peak_m_s(self) -> float:
        """Highest speed of the trace."""
        return max(self.speeds_m_s)

    @property
    def open_share(self) -> float:
        """How far the ends stay from the baseline, as a share of the peak."""
        first, last = self.speeds_m_s[0], self.speeds_m_s[-1]
        return max(first, last) / self.peak_m_s


def hand_trace(region: Region, points: Sequence[Point]) -> HandTrace:
    """Turn points along an envelope into times and speeds.

    Raises
    ------
    NotMeasurable
        When the points have no width, no speed, or lie on both sides of the baseline.
    """
    signed = [region.velocity_m_s(y) for _, y in points]
    low, high = min(signed), max(signed)
    if min(-low, high) > OTHER_SIDE * max(-low, high):
        raise NotMeasurable(
            "the trace lies on both sides of the baseline; follow one flow, on one side"
        )
    trace = HandTrace(
        times_s=tuple(region.seconds_from_left(x) for x, _ in points),
        speeds_m_s=tuple(abs(speed) for speed in signed),
    )
    if trace.duration_s == 0 or trace.peak_m_s == 0:
        raise NotMeasurable("the trace has no width or no height; follow the envelope again")
    return trace


def velocity_time_integral_cm(trace: HandTrace) -> float:
    r"""Distance that the blood at the envelope travels in one beat.

    .. math:: VTI = \int |v| \, dt

    Parameters
    ----------
    trace : HandTrace
        From the baseline over the envelope back to the baseline, in either direction.

    Returns
    -------
    float
        Velocity-time integral, cm.

    Notes
    -----
    Trapezium rule along the line as drawn: a step back in time counts back, and a trace that
    was closed along the baseline gives the same integral.

    Sources: [quinones2002].
    """
    return 100 * abs(_integral(trace.times_s, trace.speeds_m_s))


def mean_gradient_mmHg(trace: HandTrace) -> float:
    r"""Mean over the flow time of the instantaneous pressure drop.

    .. math:: \overline{\Delta P} = \frac{1}{T} \int_0^T 4 v^2 \, dt

    Parameters
    ----------
    trace : HandTrace
        From the baseline over the envelope back to the baseline, in either direction.

    Returns
    -------
    float
        Mean gradient, mmHg.

    Notes
    -----
    It is the mean of the squares, not the square of the mean. Between two points the speed is
    taken as a straight line, whose square is integrated exactly.

    Sources: [quinones2002].
    """
    total = sum(
        (after - before) * (one * one + one * other + other * other) / 3
        for (before, after), (one, other) in zip(
            pairwise(trace.times_s), pairwise(trace.speeds_m_s), strict=True
        )
    )
    return 4 * abs(total) / trace.duration_s


@dataclass(frozen=True, slots=True)
class Slope:
    """A straight fall of speed: from ``peak_m_s`` to ``later_m_s`` in ``time_s``."""

    peak_m_s: float
    later_m_s: float
    time_s: float

    def time_to(self, share_of_peak: float) -> float:
        """Return the time from the peak until the line is down to a share of it, seconds."""
        fall_m_s = self.peak_m_s - self.later_m_s
        return (1 - share_of_peak) * self.peak_m_s * self.time_s / fall_m_s


def slope(region: Region, one: Point, other: Point) -> Slope:
    """Turn two points into a slope that starts at the faster one.

    Raises
    ------
    NotMeasurable
        When the line does not fall with time.
    """
    first, second = sorted((one, other))
    speeds = [abs(region.velocity_m_s(y)) for _, y in (first, second)]
    time_s = region.time_s(first[0], second[0])
    if speeds[0] <= speeds[1] or time_s == 0:
        raise NotMeasurable(
            "the line does not fall with time; go from the peak down the slope, left to right"
        )
    return Slope(peak_m_s=speeds[0], later_m_s=speeds[1], time_s=time_s)


HALF_PRESSURE = 1 / sqrt(2)  # the speed at half the pressure: 4 v^2 halves when v falls to this


def pressure_half_time_ms(fall: Slope) -> float:
    r"""Time in which the pressure across the valve halves, from a straight slope of speed.

    .. math:: t_{1/2} = \left(1 - \tfrac{1}{\sqrt 2}\right) \frac{v_1 \, \Delta t}{v_1 - v_2}

    Parameters
    ----------
    fall : Slope
        From the peak of the jet down its slope.

    Returns
    -------
    float
        Pressure half-time, ms.

    Notes
    -----
    A straight line makes it 0.293 of the deceleration time.

    Sources: [quinones2002].
    """
    return 1000 * fall.time_to(HALF_PRESSURE)


def _integral(times: Sequence[float], values: Sequence[float]) -> float:
    return sum(
        (after - before) * (one + other) / 2
        for (before, after), (one, other) in zip(pairwise(times), pairwise(values), strict=True)
    )
