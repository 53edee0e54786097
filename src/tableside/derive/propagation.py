"""From the spreads of the measurements to the spread of an index (delta method).

Trace and beats of two measurements are independent. An error of scale is one and the same for
all measurements of a scale: it cancels in a ratio and stays in a size freed of body weight.
Another sweep moves systole and diastole of one structure together by half its variance, a
choice of ours; everything else that another sweep or reader would add is independent.
"""

from collections.abc import Callable, Mapping
from itertools import combinations
from math import sqrt

from tableside.derive.inputs import Input
from tableside.errors import OutOfRange
from tableside.model import Spread

STEP = 1e-5  # of the value; the error of a central difference is then about 1e-10
SHARED_SWEEP = 0.5
SAME_STRUCTURE = {
    frozenset(pair)
    for pair in (
        ("LVIDd", "LVIDs"),
        ("IVSd", "IVSs"),
        ("LVPWd", "LVPWs"),
        ("LVAd", "LVAs"),
        ("LVLd", "LVLs"),
        ("EDV", "ESV"),
    )
}

Inputs = Mapping[str, Input]
Slopes = Mapping[str, float]


def slopes(value_of: Callable[[Mapping[str, float]], float], inputs: Inputs) -> Slopes:
    """Return how fast a number rises with each of its inputs, by differences."""
    at = {request: one.value for request, one in inputs.items()}
    here = value_of(at)
    return {request: _slope(value_of, at, request, here) for request in at}


def _slope(
    value_of: Callable[[Mapping[str, float]], float],
    at: Mapping[str, float],
    request: str,
    here: float,
) -> float:
    step = STEP * max(abs(at[request]), 1e-3)
    ends: list[tuple[float, float]] = []
    for shift in (-step, step):
        try:
            ends.append((shift, value_of({**at, request: at[request] + shift})))
        except OutOfRange:  # the edge of the formula's range: use the side that is inside
            ends.append((0.0, here))
    (low, before), (high, after) = ends
    return (after - before) / (high - low) if high > low else 0.0


def propagated(slope: Slopes, inputs: Inputs) -> Spread:
    """Return the spread of a number by origin, from that of its inputs."""
    return Spread(
        trace=_independent(slope, {key: one.spread.trace for key, one in inputs.items()}),
        calibration=_calibration(slope, inputs),
        beats=_independent(slope, {key: one.spread.beats for key, one in inputs.items()}),
        acquisition=_acquisition(slope, inputs),
        reading=_independent(slope, {key: one.spread.reading for key, one in inputs.items()}),
    )


def _independent(slope: Slopes, sds: Mapping[str, float]) -> float:
    return sqrt(sum((slope[key] * sd) ** 2 for key, sd in sds.items()))


def _calibration(slope: Slopes, inputs: Inputs) -> float:
    by_scale: dict[str, float] = {}
    for key, one in inputs.items():
        scale = one.scale or f"own scale of {key}"
        by_scale[scale] = by_scale.get(scale, 0.0) + slope[key] * one.spread.calibration
    return sqrt(sum(shift**2 for shift in by_scale.values()))


def _acquisition(slope: Slopes, inputs: Inputs) -> float:
    parts = {key: slope[key] * one.spread.acquisition for key, one in inputs.items()}
    variance = sum(part**2 for part in parts.values())
    for one, other in combinations(inputs, 2):
        if _is_one_sweep(inputs[one], inputs[other]):
            variance += 2.0 * SHARED_SWEEP * parts[one] * parts[other]
    return sqrt(max(variance, 0.0))


def _is_one_sweep(one: Input, other: Input) -> bool:
    same_structure = frozenset((one.name, other.name)) in SAME_STRUCTURE
    return same_structure and bool(set(one.files) & set(other.files))


def bound_of(slope: Slopes, inputs: Inputs) -> tuple[str | None, tuple[str, ...]]:
    """Return the bound that the inputs' bounds make, and what must be said beside it."""
    limited = [key for key, one in inputs.items() if one.bound == "lower" and slope[key]]
    rising = [key for key in limited if slope[key] > 0]
    falling = [key for key in limited if slope[key] < 0]
    if not falling:
        return ("lower" if rising else None), ()
    names = ", ".join(inputs[key].name for key in falling)
    return None, (f"{names} can only be higher, so this may be lower than shown",)
