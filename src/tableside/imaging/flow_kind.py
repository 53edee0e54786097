"""What a spectrum shows before anyone says which flow it is: side, speed, timing and shape.

Each feature is a plain number by name, and what cannot be seen is absent, so that whoever
weighs them (`automatic.suggest`) can leave it out.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log, tau

import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.flow import FlowKind, FlowTrace, strength, trace_flow
from tableside.imaging.periodicity import beat_length_s
from tableside.imaging.spectrum import Sides
from tableside.imaging.types import Floats
from tableside.imaging.waves import Wave, find_waves


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowKindOptions:
    """How a spectrum is looked at. Change these, not the code."""

    tissue_m_s: float = 0.45  # a scale that ends below shows tissue, not blood
    low: float = 0.25  # of the peak: what stands above it lasts
    tall: float = 0.60  # of the tallest wave: waves that speak for the flow
    low_wave: float = 0.30  # of the tallest wave: waves that are counted
    before_r: float = (
        0.20  # of the interval: a wave that begins this near before R belongs to it
    )
    steady_s: float = 0.03  # grain of the time axis when a beat is looked for without an ECG


@dataclass(frozen=True, slots=True, kw_only=True)
class SpectrumScale:
    """The scale of a spectrum, and the columns of its R waves (empty without an ECG)."""

    m_s_per_row: float
    s_per_column: float
    r_columns: tuple[float, ...] = ()
    is_pulsed: bool = True


def flow_features(
    sides: Sides, scale: SpectrumScale, options: FlowKindOptions = FlowKindOptions()
) -> Mapping[str, float]:
    """Return what tells one flow from another.

    Parameters
    ----------
    sides : Sides
        The two sides of the baseline.
    scale : SpectrumScale
        R waves in columns of the spectrum.
    options : FlowKindOptions

    Returns
    -------
    Mapping
        ``range`` and ``peak``: natural logarithm of the largest speed of the scale and of the
        flow, m/s. ``up``: share of the signal above the baseline. ``waves``: waves a beat on
        the main side. ``lasting``: share of the time in which the main side flows. Of its tall
        waves, by their medians: ``rise`` (time to the peak over duration), ``fullness`` (mean
        over peak). With a beat known: ``duration_s``, and with R waves ``centre`` (when in the
        interval the flow is centred, 0 at R) and ``onset_s`` (start after R).

    Raises
    ------
    NotMeasurable
        When no side holds a flow.
    """
    rows = max(sides.up.grey.shape[0], sides.down.grey.shape[0])
    top_m_s = rows * scale.m_s_per_row
    is_tissue = top_m_s < options.tissue_m_s
    share = {sign: strength(sides, sign) for sign in (1, -1)}
    main = max(share, key=lambda sign: share[sign])
    kind = FlowKind(tissue=is_tissue, pulsed=scale.is_pulsed)
    flow = trace_flow(sides, main, scale.s_per_column, kind)
    waves = find_waves(flow.curve)
    tallest = max(wave.peak_px for wave in waves)
    tall = [wave for wave in waves if wave.peak_px >= options.tall * tallest]
    peak_px = float(np.median([wave.peak_px for wave in tall]))
    return {
        "range": log(top_m_s),
        "peak": log(max(peak_px * scale.m_s_per_row, 1e-3)),
        "up": share[1] / (share[1] + share[-1]),
        **_shape(tall, peak_px, flow, options),
        **_timing(sides, (waves, tall), flow, scale, options),
    }


def _shape(
    tall: Sequence[Wave], peak_px: float, flow: FlowTrace, options: FlowKindOptions
) -> Mapping[str, float]:
    found = {"lasting": float((flow.curve.height_px > options.low * peak_px).mean())}
    whole = [wave for wave in tall if wave.is_whole and wave.columns > 3]
    if whole:
        rises = [(wave.peak_at - wave.start) / wave.columns for wave in whole]
        full = [wave.area / (wave.columns * wave.peak_px) for wave in whole]
        found["rise"] = float(np.clip(np.median(rises), 0.0, 1.0))
        found["fullness"] = float(np.clip(np.median(full), 0.0, 1.2))
    return found


def _timing(
    sides: Sides,
    found: tuple[Sequence[Wave], Sequence[Wave]],
    flow: FlowTrace,
    scale: SpectrumScale,
    options: FlowKindOptions,
) -> Mapping[str, float]:
    waves, tall = found
    rr = _interval(sides, scale)
    whole = [wave for wave in tall if wave.is_whole]
    timing = {}
    if whole:
        timing["duration_s"] = scale.s_per_column * float(np.median([w.columns for w in whole]))
    if rr is not None:
        least = options.low_wave * max(wave.peak_px for wave in waves)
        counted = [wave for wave in waves if wave.peak_px >= least]
        timing["waves"] = len(counted) * rr / flow.curve.columns
    if len(scale.r_columns) >= 2:
        timing |= _against_ecg(tall, flow.curve.height_px, scale, options)
    return timing


def _interval(sides: Sides, scale: SpectrumScale) -> float | None:
    """Return the length of a beat in columns: from R waves, else as the picture repeats."""
    if len(scale.r_columns) >= 2:
        return float(np.median(np.diff(scale.r_columns)))
    grey = np.concatenate([sides.up.grey[::-1], sides.down.grey])
    try:
        return beat_length_s(grey.astype(np.float32), scale.s_per_column) / scale.s_per_column
    except NotMeasurable:
        return None


def _against_ecg(
    tall: Sequence[Wave], height: Floats, scale: SpectrumScale, options: FlowKindOptions
) -> Mapping[str, float]:
    """Return when the flow comes, by the R waves."""
    columns = np.arange(height.size, dtype=np.float64)
    phase = _phase(columns, scale.r_columns)
    known = np.isfinite(phase)
    if height[known].sum() <= 0:
        return {}
    turn = np.sum(height[known] * np.exp(1j * tau * phase[known]))
    timing = {"centre": _unrolled(float(np.angle(turn) / tau), options.before_r)}
    starts = _phase(np.array([wave.start for wave in tall if wave.first > 1]), scale.r_columns)
    starts = starts[np.isfinite(starts)]
    if starts.size:
        rr_s = scale.s_per_column * float(np.median(np.diff(scale.r_columns)))
        unrolled = [_unrolled(float(one), options.before_r) for one in starts]
        timing["onset_s"] = rr_s * float(np.median(unrolled))
    return timing


def _phase(columns: Floats, r_columns: Sequence[float]) -> Floats:
    """Return where in its interval each column lies, 0 to 1; NaN outside the R waves."""
    beats = np.interp(columns, r_columns, np.arange(len(r_columns)), left=np.nan, right=np.nan)
    return np.asarray(beats % 1.0)


def _unrolled(phase: float, before: float) -> float:
    """Return a phase from ``-before`` to ``1 - before``."""
    return (phase + before) % 1.0 - before
