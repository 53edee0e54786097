"""Find the R waves of an electrocardiogram line, and say which beats must not be averaged.

Times fit the dog and the cat: a QRS complex up to 80 ms, at least 180 ms between two beats.
Sources: methods of QRS detection by band-pass, slope and moving energy (common practice);
classes of beats by prematurity and shape (common practice); canine limits (memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.smooth import gaussian, running_mean, running_median
from tableside.imaging.types import Floats, Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatOptions:
    """How an R wave is told from the rest. Change these, not the code."""

    smooth_s: float = 0.008  # finest detail that counts
    drift_s: float = 0.25  # slower movement is drift
    qrs_s: float = 0.09  # width over which the energy of the slope is gathered
    refractory_s: float = 0.18  # no second R wave sooner
    half_search_s: float = 0.05  # the top lies this near the steepest part
    threshold: float = 0.5  # of the usual slope of an R wave
    least_snr: float = 2.5  # slope of the R waves over the median slope
    premature: float = 0.80  # an interval below this share of the usual one comes too early
    pause: float = 1.10  # an interval above this share of the usual one is a pause
    alike: float = 0.90  # correlation of two QRS complexes of one origin
    irregular: float = 0.18  # spread of the intervals, as a share, from which it is said
    timing_px: float = 0.35  # standard deviation of a top, columns (drawn records, measured)


@dataclass(frozen=True, slots=True)
class RPeaks:
    """Tops of the R waves (or of deep S waves), with their likeness to the usual complex."""

    column: Floats
    sd_px: Floats
    likeness: Floats  # correlation with the median complex, -1 to 1
    upright: bool


def find_r_peaks(
    height_px: Floats, s_per_column: float, options: BeatOptions = BeatOptions()
) -> RPeaks:
    """Find the R waves of one electrocardiogram.

    Parameters
    ----------
    height_px : (columns,)
        The line, up positive.
    s_per_column : float
    options : BeatOptions

    Returns
    -------
    RPeaks

    Raises
    ------
    NotMeasurable
        When nothing in the line is as steep and as narrow as a QRS complex.

    Notes
    -----
    Drift is taken off, the slope squared and gathered over a QRS width; its tops above a share
    of the usual top are beats. A T wave may be taller than the R wave but is never as steep.
    The largest deflection, up or down, whichever most beats show, is the R wave; its place is
    the centre of its upper third, to a fraction of a column.
    """
    clean = _without_drift(height_px, s_per_column, options)
    slope = np.gradient(clean)
    energy = np.sqrt(
        np.maximum(running_mean(slope**2, max(3, round(options.qrs_s / s_per_column) | 1)), 0.0)
    )
    steepest = _separate_tops(energy, max(1.0, options.refractory_s / s_per_column))
    steepest = _steep_enough(steepest, energy, options)
    reach = max(2, round(options.half_search_s / s_per_column))
    upright = _is_upright(clean, steepest, reach)
    signal = clean if upright else -clean
    column = np.array([_top(signal, int(at), reach) for at in steepest])
    inside = (column > 0.5) & (column < height_px.size - 1.5)
    column = column[inside]
    if column.size == 0:
        raise NotMeasurable("no R wave was found in the electrocardiogram")
    sd_px = np.full(column.size, options.timing_px)
    return RPeaks(column, sd_px, _likeness(signal, column, reach), upright)


def classify_beats(
    times_s: Sequence[float], likeness: Sequence[float], options: BeatOptions = BeatOptions()
) -> tuple[tuple[str | None, ...], str | None]:
    """Say of every beat why it must not be averaged, and what the rhythm looks like.

    Parameters
    ----------
    times_s : sequence of float
        R waves in order.
    likeness : sequence of float
        Correlation of each QRS complex with the usual one.
    options : BeatOptions

    Returns
    -------
    reasons : tuple of (str or None)
        One a beat; None when it may be used.
    note : str or None
        A remark on the rhythm.

    Notes
    -----
    A beat is premature when its interval is short and its complex differs, or a pause follows.
    It is left out with the beat after it, which is stronger than usual. In an irregular
    rhythm (intervals that spread by more than ``irregular``) short intervals are the rule, and
    only complexes of another shape count.
    """
    intervals = np.diff(np.asarray(times_s))
    reasons: list[str | None] = [None] * len(times_s)
    if intervals.size < 2:
        return tuple(reasons), None
    usual = float(np.median(intervals))
    early = [_is_premature(i, intervals, likeness, options) for i in range(len(times_s))]
    normal = [x for i, x in enumerate(intervals) if not early[i] and not early[i + 1]]
    spread = float(np.std(normal) / np.mean(normal)) if len(normal) > 2 else 0.0
    irregular = spread > options.irregular
    for i, is_early in enumerate(early):
        if is_early and not (irregular and likeness[i] > options.alike):
            reasons[i] = "premature beat"
    for i, (before, here) in enumerate(pairwise(reasons)):
        if before == "premature beat" and here is None:
            reasons[i + 1] = "beat after a premature beat"
    note = None
    if irregular:
        note = f"irregular rhythm: intervals from {min(normal):.2f} to {max(normal):.2f} s"
    elif any(early):
        note = f"{sum(early)} premature of {len(early)} beats, usual interval {usual:.2f} s"
    return tuple(reasons), note


def _is_premature(
    i: int, intervals: Floats, likeness: Sequence[float], options: BeatOptions
) -> bool:
    if i == 0:
        return False
    around = [x for k, x in enumerate(intervals) if abs(k - (i - 1)) <= 3 and k != i - 1]
    usual = sorted(around)[(len(around) - 1) // 2]
    if intervals[i - 1] >= options.premature * usual:
        return False
    paused = i < len(intervals) and intervals[i] > options.pause * usual
    return paused or likeness[i] < options.alike


def _without_drift(height: Floats, s_per_column: float, options: BeatOptions) -> Floats:
    """Return the line with the slow movement and the finest steps taken off."""
    width = min(round(options.drift_s / s_per_column) | 1, height.size)
    drift = running_median(height, max(width, 3))
    return gaussian(height - drift, max(options.smooth_s / s_per_column, 0.6))


def _separate_tops(values: Floats, apart: float) -> Ints:
    """Return the places of the tops, highest first served, none closer than ``apart``."""
    inner = values[1:-1]
    tops = np.flatnonzero((inner >= values[:-2]) & (inner > values[2:])) + 1
    kept: list[int] = []
    for top in tops[np.argsort(-values[tops])]:
        if all(abs(top - other) >= apart for other in kept):
            kept.append(int(top))
    return np.array(sorted(kept), dtype=np.int64)


def _steep_enough(tops: Ints, energy: Floats, options: BeatOptions) -> Ints:
    """Return the tops that are as steep as the usual R wave."""
    if tops.size == 0:
        raise NotMeasurable("the electrocardiogram is too short for an R wave")
    heights = energy[tops]
    usual = float(np.median(heights[heights > 0.5 * heights.max()]))
    quiet = float(np.median(energy))
    if usual < options.least_snr * quiet:
        raise NotMeasurable("the electrocardiogram shows no QRS complex above its noise")
    return tops[heights > options.threshold * usual]


def _is_upright(clean: Floats, steepest: Ints, reach: int) -> bool:
    """Return whether most beats deflect farther up than down."""
    up, down = [], []
    for at in steepest:
        part = clean[max(0, at - reach) : at + reach + 1]
        up.append(part.max())
        down.append(-part.min())
    return float(np.median(up)) >= float(np.median(down))


def _top(signal: Floats, at: int, reach: int) -> float:
    """Return the centre of the upper third of the top near ``at``, in columns."""
    left = max(0, at - reach)
    part = signal[left : at + reach + 1]
    peak = int(part.argmax())
    level = part[peak] * 2 / 3
    first, last = peak, peak
    while first > 0 and part[first - 1] > level:
        first -= 1
    while last < part.size - 1 and part[last + 1] > level:
        last += 1
    weight = np.maximum(part[first : last + 1] - level, 1e-9) ** 2
    return left + float((weight * np.arange(first, last + 1)).sum() / weight.sum())


def _likeness(signal: Floats, columns: Floats, reach: int) -> Floats:
    """Return the correlation of every complex with the median of all."""
    width = int(1.4 * reach) + 1
    padded = np.pad(signal, width, mode="edge")
    places = np.rint(columns).astype(np.int64) + width
    shapes = np.array([padded[p - width : p + width + 1] for p in places])
    shapes = shapes - shapes.mean(axis=1, keepdims=True)
    usual = np.median(shapes, axis=0)
    norm = np.linalg.norm(shapes, axis=1) * np.linalg.norm(usual)
    return np.asarray(shapes @ usual / np.maximum(norm, 1e-9))
