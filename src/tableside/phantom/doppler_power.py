"""Power over velocity and time before the grain: flow, wall echoes, clicks, filter, folding."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tableside.phantom.flow import flow_kind
from tableside.phantom.rhythm import HeartBeat
from tableside.phantom.types import Floats

if TYPE_CHECKING:
    from tableside.phantom.doppler import FlowSpec

FOLDS = 3  # the power is laid out over this many ranges before it is folded
BAND = 0.18  # width of the fast band as a share of the speed: a plug-like profile
CONTINUOUS_FILL_DB = -8.0  # it also hears everything slower along its line
PULSED_FILL_DB = -17.0
CLUTTER_M_S = 0.040
CLUTTER_DB = 16.0
TISSUE_CUT_M_S = 0.006
PULSED_CUT_M_S = 0.070
CONTINUOUS_CUT_M_S = 0.200
CLICK_S = 0.004
CLICK_DB = -4.0
SLANT = 0.03  # broadening of a beam straight across, as a share of the speed
FADE_DB = 40.0  # how far an incomplete top fades


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """Rows to velocities. Row centres are integers; up is positive."""

    rows: int
    baseline_row: float
    m_s_per_row: float
    folds: bool

    @property
    def velocities(self) -> Floats:
        """Velocity of each row."""
        return np.asarray((self.baseline_row - np.arange(self.rows)) * self.m_s_per_row)

    @property
    def wide_velocities(self) -> Floats:
        """Velocities of the rows above, on and below the strip."""
        rows = np.arange(self.rows * FOLDS) - self.rows * (FOLDS // 2)
        return np.asarray((self.baseline_row - rows) * self.m_s_per_row)


def power_density(
    speed: Floats,
    time_s: Floats,
    beats: tuple[HeartBeat, ...],
    axis: Axis,
    spec: "FlowSpec",
) -> Floats:
    """Return the mean power of each bin (rows, lines); 1 is the flow at its usual peak."""
    wide = axis.wide_velocities
    power = _flow_power(wide[:, None], speed, axis, spec)
    if spec.mirror_db is not None:
        ghost = _flow_power(-wide[:, None], speed, axis, spec)
        power += ghost * 10 ** (-spec.mirror_db / 10)
    if not flow_kind(spec.flow).tissue:
        power += _clutter(wide, time_s, beats)
        if spec.clicks:
            power += _clicks(wide, time_s, beats, axis)
    folded = power.reshape(FOLDS, axis.rows, -1)
    kept = folded.sum(axis=0) if axis.folds else folded[FOLDS // 2]
    return np.asarray(kept * wall_filter(axis, spec)[:, None] ** 2)


def wall_filter(axis: Axis, spec: "FlowSpec") -> Floats:
    """Return the share of the echo size that the wall filter lets through, by row.

    The filter acts on the sampled signal: what is shown near a whole velocity range is as slow
    to it as what is shown near zero.
    """
    cut_m_s = spec.wall_filter_m_s
    if cut_m_s is None:
        kind = flow_kind(spec.flow)
        cut_m_s = TISSUE_CUT_M_S if kind.tissue else PULSED_CUT_M_S
        cut_m_s = CONTINUOUS_CUT_M_S if kind.continuous else cut_m_s
    if cut_m_s <= 0:
        return np.ones(axis.rows)
    speed = axis.velocities
    if axis.folds:
        range_m_s = axis.rows * axis.m_s_per_row
        speed = speed - range_m_s * np.round(speed / range_m_s)
    ratio = np.abs(speed) / cut_m_s
    return np.asarray(ratio**4 / np.sqrt(1 + ratio**8))


def _flow_power(wide: Floats, speed: Floats, axis: Axis, spec: "FlowSpec") -> Floats:
    """Power of the moving blood: a band below the outer edge, blurred by the broadening."""
    kind = flow_kind(spec.flow)
    size = np.abs(speed)
    reference = max(spec.course.peaks_m_s) * spec.cosine
    slant = SLANT * np.sin(np.radians(spec.angle_deg)) ** 2
    sigma = np.hypot(spec.broadening, slant) * size + 0.4 * axis.m_s_per_row
    sigma = sigma + (0.03 * reference if kind.tissue else 0.004 * reference)
    along = wide * np.sign(speed)
    edge = normal_share((size - along) / sigma)
    band_m_s = BAND * size
    band = edge - normal_share((size - band_m_s - along) / sigma)
    height = np.minimum(BAND * reference / np.maximum(band_m_s + sigma, 1e-9), 3.0)
    power = np.clip(band, 0, 1) * height
    if not kind.tissue:
        fill = edge * normal_share((along - 0.02 * reference) / (0.02 * reference))
        level_db = CONTINUOUS_FILL_DB if kind.continuous else PULSED_FILL_DB
        power = 0.75 * power + fill * 10 ** (level_db / 10)
    power = power * _presence(size / reference)
    if spec.incomplete > 0:
        above = np.clip(along / reference - (1 - spec.incomplete), 0, None) / spec.incomplete
        power = power * 10 ** (-FADE_DB * np.clip(above, 0, 2) / 10)
    return np.asarray(power)


def _presence(share: Floats) -> Floats:
    """Blood is heard only while it moves."""
    return np.asarray(np.clip(share / 0.04, 0, 1) ** 2)


def normal_share(x: Floats) -> Floats:
    """Return the standard normal distribution function.

    Source: Abramowitz and Stegun, formula 7.1.26 (error below 1.5e-7).
    """
    z = np.abs(x) / np.sqrt(2)
    t = 1 / (1 + 0.3275911 * z)
    poly = 1.421413741 + t * (-1.453152027 + t * 1.061405429)
    poly = t * (0.254829592 + t * (-0.284496736 + t * poly))
    half = 0.5 * poly * np.exp(-(z**2))
    return np.asarray(np.where(x >= 0, 1 - half, half))


def _clutter(wide: Floats, time_s: Floats, beats: tuple[HeartBeat, ...]) -> Floats:
    """Echoes of the walls, slow and strong, when the walls move."""
    moving = np.full_like(time_s, 0.02)
    for beat in beats:
        for at_s, width_s in ((beat.ejection_s, 0.03), (beat.filling_s, 0.03)):
            moving += np.exp(-0.5 * ((time_s - at_s) / width_s) ** 2)
    slow = np.exp(-0.5 * (wide / CLUTTER_M_S) ** 2)
    return np.asarray(slow[:, None] * moving * 10 ** (CLUTTER_DB / 10))


def _clicks(wide: Floats, time_s: Floats, beats: tuple[HeartBeat, ...], axis: Axis) -> Floats:
    """Valves opening and closing: a short broad stroke on both sides of zero."""
    strokes = np.zeros_like(time_s)
    for beat in beats:
        for at_s, share in ((beat.ejection_s, 0.4), (beat.closure_s, 1.0)):
            strokes += share * np.exp(-0.5 * ((time_s - at_s) / CLICK_S) ** 2)
    reach = 0.16 * axis.rows * axis.m_s_per_row
    return np.asarray(np.exp(-np.abs(wide) / reach)[:, None] * strokes * 10 ** (CLICK_DB / 10))
