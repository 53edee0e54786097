"""Spectral Doppler with known velocities.

The velocities in the sample give a density of echo power over velocity and time. Complex noise
of that power is blurred by the window of the Fourier transform, as a machine's spectrum is, so
that every bin has the chi-square grain of a periodogram; noise and wall echoes are added, the
wall filter takes the slow part away, and what is faster than the Nyquist velocity folds over.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from tableside.phantom.doppler_power import Axis, power_density, wall_filter
from tableside.phantom.ecg import EcgStyle, draw_line, electrocardiogram
from tableside.phantom.flow import Course, beat_values, beat_velocity, flow_kind
from tableside.phantom.mmode_spec import column_times, is_usual, r_columns
from tableside.phantom.rhythm import HeartBeat, complete_beats, heart_beats
from tableside.phantom.speckle import (
    circular_noise,
    convolve_rows,
    gaussian,
    through_jpeg,
    to_pixels,
)
from tableside.phantom.types import Complexes, Floats, Pixels

SOUND_M_S = 1540.0
LINE_S = 0.002  # time between the spectra that are averaged into one column
WINDOW_SIGMA = 0.18  # of a Hann window's length: the Gaussian of the same width
SCALE_HEADROOM = 1.35


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowSpec:
    """One spectral tracing: the flow, the machine and what makes it hard.

    ``peaks_m_s`` are the true speeds in the order of the flow's names (E, A; S', E', A'; one
    for a jet), None for usual ones. ``angle_deg`` is between the beam and the flow: everything
    is displayed times its cosine. ``scale_m_s`` is the whole velocity range of the strip and,
    for a pulsed tracing, twice the Nyquist velocity; None chooses it as an operator would.
    ``baseline`` is where zero velocity lies, as a share of the height from the top.
    ``mirror_db`` is how far below the signal its ghost lies, None for none. ``incomplete`` is
    the share of the envelope's top that fades away.
    """

    flow: str
    peaks_m_s: tuple[float, ...] | None = None
    heart_rate: float = 110.0
    rhythm: str = "sinus"
    angle_deg: float = 0.0
    deceleration_s: float = 0.085
    half_time_s: float = 0.35
    atrial_mmHg: float = 12.0
    rows: int = 260
    columns: int = 900
    s_per_column: float = 0.0035
    scale_m_s: float | None = None
    baseline: float | None = None
    frequency_mhz: float = 4.0
    window_s: float | None = None
    gain_db: float = 0.0
    dynamic_range_db: float = 36.0
    snr_db: float = 24.0
    wall_filter_m_s: float | None = None
    broadening: float = 0.025
    clicks: bool = True
    mirror_db: float | None = None
    incomplete: float = 0.0
    baseline_drawn: bool = True
    jpeg: int | None = None
    ecg: bool = True
    ecg_style: EcgStyle = field(default_factory=lambda: EcgStyle(amplitude_px=16.0))

    @property
    def cosine(self) -> float:
        """What the angle leaves of every velocity."""
        return float(np.cos(np.radians(self.angle_deg)))

    @property
    def course(self) -> Course:
        """The true flow."""
        return Course(
            peaks_m_s=self.peaks_m_s or flow_kind(self.flow).peaks_m_s,
            deceleration_s=self.deceleration_s,
            half_time_s=self.half_time_s,
            atrial_mmHg=self.atrial_mmHg,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class DopplerPhantom:
    """A spectral tracing with its truth.

    ``velocity_m_s`` is the outer edge of the flow as displayed, one signed value a column,
    0 where nothing flows; not folded. ``truth`` is the mean over the complete usual beats, as
    displayed along the beam; ``beats`` one mapping a complete beat. ``true_peak_m_s`` is the
    first peak without the angle.
    """

    pixels: Pixels
    baseline_row: float
    m_s_per_row: float
    s_per_column: float
    velocity_m_s: Floats
    r_columns: Floats
    beats: tuple[Mapping[str, float], ...]
    truth: Mapping[str, float]
    true_peak_m_s: float


def spectrum(spec: FlowSpec, seed: int) -> DopplerPhantom:
    """Return a spectral tracing.

    Parameters
    ----------
    spec : FlowSpec
    seed : int
        The same spec and seed give the same pixels.
    """
    rng = np.random.default_rng(seed)
    duration_s = spec.columns * spec.s_per_column
    beats = heart_beats(duration_s, spec.heart_rate, spec.rhythm, rng)
    axis = _axis(spec)
    lines = max(1, round(spec.s_per_column / LINE_S))
    steps = np.arange(spec.columns * lines) - (lines - 1) / 2
    time_s = np.asarray(steps * spec.s_per_column / lines, dtype=np.float64)
    speed = _velocity(time_s, beats, spec) * spec.cosine
    power = _power(speed, time_s, beats, (axis, spec, rng))
    level = _grey(power.reshape(axis.rows, spec.columns, lines).mean(axis=2), spec)
    columns_s = column_times(spec.columns, spec.s_per_column)
    found = _beat_truths(beats, spec)
    used = [values for beat, values in found if is_usual(beat)]
    names = used[0] if used else {}
    return DopplerPhantom(
        pixels=_finish(level, axis, (spec, beats, rng)),
        baseline_row=axis.baseline_row,
        m_s_per_row=axis.m_s_per_row,
        s_per_column=spec.s_per_column,
        velocity_m_s=_velocity(columns_s, beats, spec) * spec.cosine,
        r_columns=r_columns(beats, spec.columns, spec.s_per_column),
        beats=tuple(values for _, values in found),
        truth={name: float(np.mean([one[name] for one in used])) for name in names},
        true_peak_m_s=spec.course.peaks_m_s[0],
    )


def _axis(spec: FlowSpec) -> Axis:
    """Choose scale and baseline as an operator would where the spec leaves them open."""
    kind = flow_kind(spec.flow)
    peak_m_s = max(spec.course.peaks_m_s) * spec.cosine
    baseline = spec.baseline
    if baseline is None:
        baseline = 0.5 if kind.both_sides else 0.5 + 0.26 * kind.sign
    room = 1 - baseline if kind.sign < 0 else baseline
    scale_m_s = spec.scale_m_s or SCALE_HEADROOM * peak_m_s / min(room, 0.8)
    return Axis(
        rows=spec.rows,
        baseline_row=round(baseline * (spec.rows - 1)),
        m_s_per_row=scale_m_s / spec.rows,
        folds=not kind.continuous,
    )


def _velocity(time_s: Floats, beats: tuple[HeartBeat, ...], spec: FlowSpec) -> Floats:
    """Outer edge of the flow in m/s; where beats overlap the faster one is seen."""
    total = np.zeros_like(time_s)
    for beat in beats:
        near = (time_s > beat.onset_s - 0.05) & (time_s < beat.end_s + 0.12)
        one = beat.vigour * beat_velocity(spec.flow, time_s[near], beat, spec.course)
        total[near] = np.where(np.abs(one) > np.abs(total[near]), one, total[near])
    return total


def _beat_truths(
    beats: tuple[HeartBeat, ...], spec: FlowSpec
) -> list[tuple[HeartBeat, Mapping[str, float]]]:
    whole = complete_beats(beats, (spec.columns - 1) * spec.s_per_column)
    found = []
    for beat in beats:
        if beat in whole:
            course = Course(
                peaks_m_s=tuple(beat.vigour * peak for peak in spec.course.peaks_m_s),
                deceleration_s=spec.deceleration_s,
                half_time_s=spec.half_time_s,
                atrial_mmHg=spec.atrial_mmHg,
            )
            found.append((beat, beat_values(spec.flow, beat, course, spec.cosine)))
    return found


def _power(
    speed: Floats,
    time_s: Floats,
    beats: tuple[HeartBeat, ...],
    machine: tuple[Axis, FlowSpec, np.random.Generator],
) -> Floats:
    """Return the power of every bin (rows, lines), with its grain."""
    axis, spec, rng = machine
    kind = flow_kind(spec.flow)
    density = power_density(speed, time_s, beats, axis, spec)
    signal = circular_noise(density.shape, rng) * np.sqrt(density).astype(np.float32)
    window_s = spec.window_s or (0.022 if kind.tissue else 0.008)
    line_s = time_s[1] - time_s[0]
    resolution_m_s = SOUND_M_S / (2 * spec.frequency_mhz * 1e6 * window_s)
    rows_sigma = max(0.35, 0.6 * resolution_m_s / axis.m_s_per_row)
    lines_sigma = max(0.35, WINDOW_SIGMA * window_s / line_s)
    noise = circular_noise(density.shape, rng) * np.float32(10 ** (-spec.snr_db / 20))
    echo = _blur(signal, rows_sigma, lines_sigma)
    echo += _blur(noise, rows_sigma, lines_sigma) * wall_filter(axis, spec)[:, None]
    return np.asarray(np.abs(echo) ** 2, dtype=np.float64)


def _blur(field: Complexes, rows_sigma: float, lines_sigma: float) -> Complexes:
    along = convolve_rows(field, gaussian(rows_sigma))
    return convolve_rows(along.T, gaussian(lines_sigma)).T


def _grey(power: Floats, spec: FlowSpec) -> Floats:
    level_db = 10 * np.log10(np.maximum(power, 1e-12)) + spec.gain_db
    share = (level_db - 5.0) / spec.dynamic_range_db + 1
    return np.asarray(255 * np.clip(share, 0, 1) ** 1.5)


def _finish(
    level: Floats,
    axis: Axis,
    machine: tuple[FlowSpec, tuple[HeartBeat, ...], np.random.Generator],
) -> Pixels:
    spec, beats, rng = machine
    pixels = to_pixels(level)
    if spec.baseline_drawn:
        pixels[round(axis.baseline_row)] = 200
    if spec.ecg:
        time_s = column_times(spec.columns, spec.s_per_column)
        volts = electrocardiogram(time_s, beats, rng, spec.ecg_style)
        rows = 0.93 * spec.rows - spec.ecg_style.amplitude_px * volts
        pixels = draw_line(np.repeat(pixels[..., None], 3, axis=2), rows, spec.ecg_style)
    return through_jpeg(pixels, spec.jpeg)
