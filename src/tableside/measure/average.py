"""Beats to one number: the mean of the beats used, with its spread by origin."""

from collections.abc import Sequence
from dataclasses import replace
from math import sqrt
from statistics import fmean
from typing import Any

from tableside.errors import NotMeasurable
from tableside.model import Beat, Measurement, Spread, Variation, quantity

PRIOR_BEATS = 3  # the published beat-to-beat variation counts as much as three further beats
SHARED_TRACE = (
    0.5  # share of the trace variance common to all beats of one image; a design choice
)


def average(
    quantity_id: str, beats: Sequence[Beat], *, method: str, scale_sd: float, **labels: Any
) -> Measurement:
    """Average the beats that may be used into one measurement.

    Parameters
    ----------
    quantity_id : str
        An id of ``quantities.toml``; its unit is the unit of the values.
    beats : sequence of Beat
        All beats, also those not used; values and sd in the unit of the quantity.
    method : str
        ``automatic`` or ``caliper``.
    scale_sd : float
        Relative standard deviation of the scale of the image.
    **labels
        Other fields of `Measurement`: convention, bound, detail, scale, edges, notes.

    Raises
    ------
    NotMeasurable
        When no beat may be used.
    OutOfRange
        When the mean is a value that no dog or cat has.

    Notes
    -----
    Half the trace variance is taken as common to all beats of an image (one gain, one
    convention) and does not shrink with their number. The scatter between beats is shrunk
    towards the published variation (``spreads.toml``), which counts as three beats. It says
    what other beats would change, and no part of the doubt about the beats that were read:
    these are in the picture, and their mean is what the interval is about.
    """
    used = [beat for beat in beats if beat.used]
    if not used:
        reasons = ", ".join(sorted({beat.reason or "not used" for beat in beats}))
        raise NotMeasurable(f"{quantity_id}: no beat can be used ({reasons or 'none found'})")
    entry = quantity(quantity_id)
    value = fmean(beat.value for beat in used)
    entry.require_plausible(value)
    variation = entry.variation
    spread = Spread(
        trace=_trace_sd([beat.sd for beat in used]),
        calibration=scale_sd * value,
        beats=_beat_sd([beat.value for beat in used], variation.beat * value),
        acquisition=variation.acquisition * value,
        reading=variation.reading * value,
    )
    return Measurement(
        quantity=quantity_id,
        value=value,
        unit=entry.unit,
        spread=spread,
        method=method,
        beats=tuple(beats),
        **labels,
    )


def with_variation(one: Measurement, variation: Variation) -> Measurement:
    """Return a measurement of one image whose other beats, sweeps and readers vary like this.

    A practice that measured its own components puts them in the place of the published ones.
    """
    used = [beat.value for beat in one.beats if beat.used]
    spread = replace(
        one.spread,
        beats=_beat_sd(used, variation.beat * one.value),
        acquisition=variation.acquisition * one.value,
        reading=variation.reading * one.value,
    )
    return replace(one, spread=spread)


def _trace_sd(sds: Sequence[float]) -> float:
    mean_square = fmean(sd**2 for sd in sds)
    return sqrt(mean_square * (SHARED_TRACE + (1 - SHARED_TRACE) / len(sds)))


def _beat_sd(values: Sequence[float], prior_sd: float) -> float:
    """Return the standard error of the mean of the beats."""
    n = len(values)
    mean = fmean(values)
    scatter = sum((value - mean) ** 2 for value in values)
    variance = (PRIOR_BEATS * prior_sd**2 + scatter) / (PRIOR_BEATS + n - 1)
    return sqrt(variance / n)
