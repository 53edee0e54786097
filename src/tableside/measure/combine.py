"""Several images of one quantity become one number; what was not used stays visible."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass, replace
from functools import partial
from math import fsum, hypot, sqrt

from tableside.model import Beat, Measurement, Spread, quantities
from tableside.units import text

PEAKS = ("MR_Vmax", "TR_Vmax", "AR_Vmax", "PR_Vmax", "AV_Vmax", "PV_Vmax")
ON_THE_SAME_ENVELOPE: Mapping[str, str] = {
    "MR_VTI": "MR_Vmax",
    "AV_VTI": "AV_Vmax",
    "AV_MG": "AV_Vmax",
    "PV_VTI": "PV_Vmax",
    "PV_MG": "PV_Vmax",
    "PR_Vend": "PR_Vmax",
}
PRIOR_SWEEPS = 3  # the published variation between sweeps counts as much as three further ones
SWEEPS_APART_SD = 2.5
HIGHER_SD = 2.0  # an incomplete jet that is this much faster makes the complete one a bound

Key = tuple[str, str, str, str]


def combine(measurements: Sequence[Measurement]) -> tuple[Measurement, ...]:
    """Make one measurement of each quantity, method, detail and edge convention.

    Parameters
    ----------
    measurements : sequence of Measurement
        What each image gave, in any order.

    Returns
    -------
    tuple of Measurement
        In the order of the catalogue. Every beat is kept; those of images that were not used
        say which image was better.

    Notes
    -----
    An incomplete envelope (a lower bound) is used only where no complete one exists. Of the
    complete envelopes of a jet the fastest is the best aligned, since an angle between beam and
    jet can only make it slower; the integral, the mean gradient and the end-diastolic velocity
    come from the image that gave the peak. Heart rates are averaged plainly, with their
    scatter. All other numbers are averaged with the weights 1/sd² of their sweeps.

    Sources: [quinones2002] (the highest velocity of several windows).
    """
    ordered = sorted(measurements, key=_order)
    groups: dict[Key, list[Measurement]] = {}
    for one in ordered:
        groups.setdefault(_key(one), []).append(one)
    peaks = {key: _best(group) for key, group in groups.items() if key[0] in PEAKS}
    return tuple(_combined(key, group, peaks) for key, group in groups.items())


def _combined(
    key: Key, group: list[Measurement], peaks: Mapping[Key, Measurement]
) -> Measurement:
    if len(group) == 1:
        return group[0]
    if key[0] in PEAKS:
        return _bounded(_keep(peaks[key], group), group)
    if key[0] in ON_THE_SAME_ENVELOPE:
        peak = peaks.get((ON_THE_SAME_ENVELOPE[key[0]], *key[1:]))
        return _keep(_best(group, peak.files if peak is not None else ()), group)
    complete = [one for one in group if one.bound is None]
    if len(complete) < 2:
        return _keep(_best(group), group)
    average = _mean_rate if key[0] == "HR" else _weighted_mean
    return replace(average(complete), beats=_all_beats(group, complete))


def _key(one: Measurement) -> Key:
    return one.quantity, one.method, one.detail or "", one.convention or ""


def _order(one: Measurement) -> tuple[object, ...]:
    position = list(quantities()).index(one.quantity)
    beats = tuple((beat.file, beat.frame, beat.time_s or 0.0, beat.value) for beat in one.beats)
    rest = one.value, one.bound or "", one.scale or "", astuple(one.spread), one.notes
    return position, _key(one), beats, *rest


def _best(group: Iterable[Measurement], files: tuple[str, ...] = ()) -> Measurement:
    """Return the highest complete one; of equals the first. ``files`` go before others."""

    def rank(one: Measurement) -> tuple[bool, bool, float]:
        return one.bound is None, bool(set(files) & set(one.files)), one.value

    return max(group, key=rank)


def _keep(best: Measurement, group: list[Measurement]) -> Measurement:
    return replace(best, beats=_all_beats(group, [best]))


def _bounded(best: Measurement, group: list[Measurement]) -> Measurement:
    """Say so when an incomplete envelope is already faster than the best complete one."""
    faster = [
        one
        for one in group
        if one.bound is not None
        and best.bound is None
        and one.value - best.value > HIGHER_SD * hypot(one.spread.sweep, best.spread.sweep)
    ]
    if not faster:
        return best
    fastest = max(faster, key=lambda one: one.value)
    note = (
        f"an incomplete envelope in {', '.join(fastest.files)} already reaches "
        f"{_number(fastest)}; the true peak is higher"
    )
    return replace(best, bound="lower", notes=(*best.notes, note))


def _all_beats(group: list[Measurement], used: list[Measurement]) -> tuple[Beat, ...]:
    beats: list[Beat] = []
    for one in group:
        if any(one is other for other in used):
            beats.extend(one.beats)
        else:
            beats.extend(map(partial(_set_aside, reason=_reason(one, used)), one.beats))
    return tuple(beats)


def _set_aside(beat: Beat, reason: str) -> Beat:
    return replace(beat, used=False, reason=beat.reason or reason) if beat.used else beat


def _reason(one: Measurement, used: list[Measurement]) -> str:
    files = ", ".join(dict.fromkeys(file for other in used for file in other.files))
    if one.bound is not None and used[0].bound is None:
        return f"the envelope is incomplete; {files} shows a complete one"
    if one.quantity in ON_THE_SAME_ENVELOPE:
        return f"the jet is better aligned in {files}"
    return f"{files} shows a faster envelope, {_number(used[0])}"


def _number(one: Measurement) -> str:
    return f"{one.value:.2f} {text(one.unit)}"


@dataclass(frozen=True, slots=True)
class _Share:
    """One measurement and its weight in the mean; the weights of a mean sum to 1."""

    one: Measurement
    weight: float


def _weighted_mean(group: list[Measurement]) -> Measurement:
    """Average several images; each origin of doubt shrinks only as far as it is new."""
    shares = _shares(group)
    value = fsum(share.weight * share.one.value for share in shares)
    spread = Spread(
        trace=hypot(_independent(shares, lambda spread: spread.trace), _excess(shares, value)),
        calibration=_calibration(shares),
        beats=_independent(shares, lambda spread: spread.beats),
        acquisition=_acquisition(shares, value),
        reading=fsum(share.weight * share.one.spread.reading for share in shares),
    )
    return _merged(group, value, spread, edges=_edges(shares), notes=_apart(group))


def _excess(shares: list[_Share], mean: float) -> float:
    """Return the standard error of the mean from what the images differ beyond their doubt."""
    n = len(shares)
    scatter = fsum((share.one.value - mean) ** 2 for share in shares) / (n - 1)
    expected = fsum(share.one.spread.sweep**2 for share in shares) / n
    return sqrt(max(0.0, scatter - expected) / n)


def _apart(group: list[Measurement]) -> tuple[str, ...]:
    """Say so when two images differ by more than another sweep would explain."""
    low = min(group, key=lambda one: one.value)
    high = max(group, key=lambda one: one.value)
    expected = hypot(
        low.spread.sweep, high.spread.sweep, low.spread.acquisition, high.spread.acquisition
    )
    if high.value - low.value <= SWEEPS_APART_SD * expected:
        return ()
    return (
        f"the images differ more than sweeps do: {_number(low)} in {', '.join(low.files)}, "
        f"{_number(high)} in {', '.join(high.files)}; look at both",
    )


def _mean_rate(group: list[Measurement]) -> Measurement:
    """Average heart rates plainly: the rate itself changes between images."""
    shares = [_Share(one, 1 / len(group)) for one in group]
    rates = [one.value for one in group]
    value = fsum(rates) / len(rates)
    scatter = sqrt(fsum((rate - value) ** 2 for rate in rates) / (len(rates) - 1))
    spread = Spread(
        trace=_independent(shares, lambda spread: spread.trace),
        calibration=_calibration(shares),
        beats=_independent(shares, lambda spread: spread.beats),
        acquisition=scatter,
        reading=fsum(share.weight * share.one.spread.reading for share in shares),
    )
    note = f"{min(rates):.0f} to {max(rates):.0f}/min over {len(rates)} images"
    return _merged(group, value, spread, notes=(note,))


def _merged(
    group: list[Measurement],
    value: float,
    spread: Spread,
    *,
    edges: Mapping[str, float] | None = None,
    notes: tuple[str, ...] = (),
) -> Measurement:
    scales = {one.scale for one in group}
    old_notes = [note for one in group for note in one.notes]
    return replace(
        group[0],
        value=value,
        spread=spread,
        scale=scales.pop() if len(scales) == 1 else None,
        edges=edges or {},
        notes=tuple(dict.fromkeys([*old_notes, *notes])),
    )


def _shares(group: list[Measurement]) -> list[_Share]:
    if any(one.spread.sweep == 0 for one in group):
        return [_Share(one, 1 / len(group)) for one in group]
    weights = [1 / one.spread.sweep**2 for one in group]
    total = fsum(weights)
    return [_Share(one, weight / total) for one, weight in zip(group, weights, strict=True)]


def _independent(shares: list[_Share], part: Callable[[Spread], float]) -> float:
    return sqrt(fsum((share.weight * part(share.one.spread)) ** 2 for share in shares))


def _calibration(shares: list[_Share]) -> float:
    """Add what hangs on one scale fully, what hangs on different ones by squares."""
    by_scale: dict[object, float] = {}
    for place, share in enumerate(shares):
        scale: object = share.one.scale or place
        part = share.weight * share.one.spread.calibration
        by_scale[scale] = by_scale.get(scale, 0.0) + part
    return hypot(*by_scale.values())


def _acquisition(shares: list[_Share], mean: float) -> float:
    """Return what another set of as many sweeps would change.

    The published variation counts as `PRIOR_SWEEPS` sweeps beside the scatter that was seen;
    one file is one sweep, however many numbers it gave.
    """
    weights: dict[tuple[str, ...], float] = {}
    values: dict[tuple[str, ...], float] = {}
    for share in shares:
        sweep = share.one.files
        weights[sweep] = weights.get(sweep, 0.0) + share.weight
        values[sweep] = values.get(sweep, 0.0) + share.weight * share.one.value
    prior = fsum(share.weight * share.one.spread.acquisition**2 for share in shares)
    scatter = fsum((values[sweep] / weights[sweep] - mean) ** 2 for sweep in weights)
    variance = (PRIOR_SWEEPS * prior + scatter) / (PRIOR_SWEEPS + len(weights) - 1)
    return sqrt(variance) * hypot(*weights.values())


def _edges(shares: list[_Share]) -> dict[str, float]:
    """Average the other edge conventions that every image gave."""
    names = set.intersection(*(set(share.one.edges) for share in shares))
    return {
        name: fsum(share.weight * share.one.edges[name] for share in shares)
        for name in sorted(names)
    }
