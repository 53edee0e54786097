"""What people decided about numbers, and whether it still stands."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from tableside.corrections.names import BY_HAND, measurement_id
from tableside.model import Measurement, Reading, Reference
from tableside.store.edit_log import EditRecord

DOUBT = 0.2  # from this probability of being unusable on a number wants a look of its own
SAME_SHARE = 1e-6
OPEN, ACCEPTED, REFUSED, CHANGED, DRAWN = "open", "accepted", "refused", "changed", "by hand"


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """The last decision about one number; ``value`` is what was accepted."""

    state: str
    who: str
    at: str
    version: int
    value: float | None = None


def decisions(edits: Sequence[EditRecord]) -> dict[str, Decision]:
    """Return the last decision about each measurement."""
    found: dict[str, Decision] = {}
    for edit in edits:
        for id_, state, value in _decided(edit):
            found[id_] = Decision(
                state=state, who=edit.who, at=edit.at, version=edit.version, value=value
            )
    return found


def state_of(one: Measurement, decided: Mapping[str, Decision]) -> str:
    """Return where a number stands; an acceptance holds for the value that was accepted."""
    decision = decided.get(measurement_id(one))
    if decision is None or decision.state == OPEN:
        return DRAWN if one.method == BY_HAND else OPEN
    if decision.state == ACCEPTED and decision.value is not None:
        has_changed = abs(one.value - decision.value) > SAME_SHARE * abs(decision.value)
        return CHANGED if has_changed else ACCEPTED
    return decision.state


def is_refused(one: Measurement, decided: Mapping[str, Decision]) -> bool:
    """Return whether a person refused a number."""
    decision = decided.get(measurement_id(one))
    return decision is not None and decision.state == REFUSED


def remarkable(one: Measurement, reading: Reading) -> list[str]:
    """Return why a number wants a look of its own; [] when it is unremarkable."""
    reasons = list(_doubts(one, reading))
    if one.bound is not None:
        reasons.append("the true value can only be higher")
    if one.references and _is_outside(one.value, one.references[0]):
        reasons.append("outside the usual interval")
    for index in reading.exam.indices:
        is_fed = one.quantity in index.inputs and index.references
        if is_fed and _is_outside(index.value, index.references[0]):
            reasons.append(f"{index.name} is outside its usual interval")
    return reasons


def _decided(edit: EditRecord) -> Iterator[tuple[str, str, float | None]]:
    if edit.kind == "decide":
        yield edit.payload["measurement"], edit.payload["state"], edit.payload.get("value")
    elif edit.kind == "accept_unremarkable":
        for id_, value in edit.payload["measurements"].items():
            yield id_, ACCEPTED, value


def _doubts(one: Measurement, reading: Reading) -> Iterator[str]:
    for check in reading.checks:
        share = check.probability_unusable or 0.0
        if one.quantity in check.about[:1] and share >= DOUBT:
            yield f"doubted: {check.id.replace('-', ' ')}"


def _is_outside(value: float, reference: Reference) -> bool:
    is_low = reference.low is not None and value < reference.low
    return is_low or (reference.high is not None and value > reference.high)
