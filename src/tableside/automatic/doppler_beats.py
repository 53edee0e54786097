"""One beat of each kind that a wave of a spectrum gives: a peak, an integral, a time."""

from math import hypot

from tableside.errors import NotMeasurable
from tableside.imaging.slopes import early_fall, rise_between
from tableside.imaging.waves import Curve, Wave
from tableside.measure.doppler import (
    Ruler,
    Use,
    gradient_beat,
    integral_beat,
    time_beat,
    velocity_beat,
)
from tableside.model import Beat

DT_SD, PEAK_TIME_SD = 1.2, 2.0  # columns; measured on drawn spectra
RISE_SD_S = 0.003
# a parabola through the upper 7 % of a wave whose rise and fall are sines peaks this share of
# their difference too late (computed)
SKEW = 0.09
EARLY_TIP = 1.08  # the straight fall of an early wave drawn back may exceed its top by this


def peak_beat(ruler: Ruler, wave: Wave, use: Use) -> Beat:
    """Return the speed at the top of a wave."""
    return velocity_beat(ruler, wave.peak_at, wave.peak_px, wave.peak_sd_px, use)


def early_peak_beat(ruler: Ruler, curve: Curve, wave: Wave, use: Use) -> Beat:
    """Return the peak of an early wave, whose sharp tip the window of time has rounded.

    The straight deceleration drawn back to the peak is the most it can have been, the top of
    the parabola the least: half way between, and the doubt grows with the difference.
    """
    try:
        fall = early_fall(curve, wave, 0.0)
    except NotMeasurable:
        return peak_beat(ruler, wave, use)
    most = min(fall.height_px, EARLY_TIP * wave.peak_px)
    lost = max(0.0, most - wave.peak_px)
    sd_px = hypot(wave.peak_sd_px, 0.3 * lost)
    return velocity_beat(ruler, wave.peak_at, wave.peak_px + lost / 2, sd_px, use)


def area_beat(ruler: Ruler, wave: Wave, use: Use) -> Beat:
    """Return the velocity-time integral of a wave."""
    return integral_beat(ruler, (wave.start, wave.end), wave.area, wave.area_sd, use)


def mean_gradient_beat(ruler: Ruler, wave: Wave, use: Use) -> Beat:
    """Return the mean gradient over a wave."""
    span = (wave.start, wave.end)
    return gradient_beat(ruler, span, wave.mean_square_px2, wave.relative_sd, use)


def duration_beat(ruler: Ruler, wave: Wave, use: Use) -> Beat:
    """Return how long a wave lasts."""
    sd = (wave.start_sd**2 + wave.end_sd**2) ** 0.5
    return time_beat(ruler, (wave.start, 0.0), (wave.end, 0.0), sd, use)


def acceleration_beat(ruler: Ruler, wave: Wave, use: Use) -> Beat:
    """Return the time from the start of a wave to its top."""
    sd = (wave.start_sd**2 + PEAK_TIME_SD**2) ** 0.5
    rise, fall = wave.peak_at - wave.start, wave.end - wave.peak_at
    top = wave.peak_at - SKEW * (fall - rise)
    return time_beat(ruler, (wave.start, 0.0), (top, wave.peak_px), sd, use)


def deceleration_beat(
    ruler: Ruler, curve: Curve, wave: Wave, state: tuple[float, Use]
) -> Beat | None:
    """Return the deceleration time of an early wave; None when its fall is not seen."""
    valley_px, use = state
    try:
        fall = early_fall(curve, wave, valley_px)
    except NotMeasurable:
        return None
    length = fall.zero - wave.peak_at
    sd = ((fall.relative_sd * length) ** 2 + DT_SD**2) ** 0.5
    return time_beat(ruler, (wave.peak_at, wave.peak_px), (fall.zero, 0.0), sd, use)


def rise_beat(ruler: Ruler, curve: Curve, wave: Wave, use: Use) -> Beat | None:
    """Return the time from 1 to 3 m/s on the rising flank of the mitral jet."""
    scale = ruler.region.m_s_per_row
    try:
        one, three = rise_between(curve, wave, 1.0 / scale, 3.0 / scale)
    except NotMeasurable:
        return None
    sd = RISE_SD_S / ruler.region.s_per_column
    return time_beat(ruler, (one, 1.0 / scale), (three, 3.0 / scale), sd, use)
