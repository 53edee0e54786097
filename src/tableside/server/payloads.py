"""What a page sends to what the log keeps: numbers of images become files, ids are resolved."""

from typing import Any

from tableside.corrections.decisions import (
    CHANGED,
    OPEN,
    remarkable,
    state_of,
)
from tableside.corrections.names import measurement_id, parse_beat
from tableside.corrections.run import Corrected
from tableside.errors import NotFound, NotMeasurable
from tableside.model import Image, Measurement
from tableside.report.digits import significant
from tableside.server.shapes.edits import (
    AcceptEdit,
    DecideEdit,
    EditGiven,
    LabelPayload,
    VisitPayload,
)
from tableside.server.shapes.given_and_told import Given


class StaleValue(NotMeasurable):
    """A decision about a value that is not the present one."""

    code = "conflict"


def log_payload(given: EditGiven, now: Corrected, images: tuple[Image, ...]) -> dict[str, Any]:
    """Return the payload of a record.

    Raises
    ------
    NotFound
        For an image, a beat or a measurement that is not there.
    """
    if isinstance(given, AcceptEdit):
        return {"measurements": _unremarkable(now)}
    if isinstance(given, DecideEdit):
        return _decision(given, now)
    payload = _dumped(given.payload)
    if "image" in payload:
        payload["file"] = _file(payload.pop("image"), images)
    if "beat" in payload:
        payload |= _place_of(payload["beat"], now)
    return payload


def _dumped(payload: Given) -> dict[str, Any]:
    """Return a payload; of labels and facts a null counts, and what was not sent stays."""
    is_partial = isinstance(payload, LabelPayload | VisitPayload)
    found: dict[str, Any] = payload.model_dump(
        mode="json", exclude_unset=is_partial, exclude_none=not is_partial
    )
    return found


def _file(number: int, images: tuple[Image, ...]) -> str:
    if number >= len(images):
        raise NotFound(f"no image {number}; the study has 0 to {len(images) - 1}")
    return images[number].file


def _place_of(beat: str, now: Corrected) -> dict[str, Any]:
    """Return where a beat was found, so that an edit of it is not applied to another one."""
    name = parse_beat(beat)
    places = now.names.get(name.measurement, {})
    if not any(name in names for names in places.values()):
        raise NotFound("this beat is not measured any more; look at the newer state")
    if name.caliper is not None:
        return {}
    found = now.found_at.get(name)
    return {} if found is None else {"was": [list(point) for point in found]}


def _all(now: Corrected) -> list[Measurement]:
    return [*now.reading.exam.measurements, *now.refused]


def _decision(given: DecideEdit, now: Corrected) -> dict[str, Any]:
    payload = given.payload
    found = next((one for one in _all(now) if measurement_id(one) == payload.measurement), None)
    if found is None:
        raise NotFound(f"no number {payload.measurement!r} in this study")
    if payload.value is not None and significant(found.value) != significant(payload.value):
        raise StaleValue(
            f"{found.quantity} is {significant(found.value):g} now, not "
            f"{payload.value:g}; look at it again"
        )
    return {"measurement": payload.measurement, "state": payload.state, "value": found.value}


def _unremarkable(now: Corrected) -> dict[str, float]:
    found = {
        measurement_id(one): one.value
        for one in now.reading.exam.measurements
        if state_of(one, now.decided) in (OPEN, CHANGED) and not remarkable(one, now.reading)
    }
    if not found:
        raise NotMeasurable("nothing that is unremarkable waits; look at the rest one by one")
    return found
