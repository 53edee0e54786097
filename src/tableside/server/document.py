"""Records to the JSON that travels: study.json with the ids by which edits name things."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

from tableside.corrections.beats import editable_points
from tableside.corrections.decisions import remarkable, state_of
from tableside.corrections.names import BeatName, measurement_id, where
from tableside.corrections.run import Corrected
from tableside.model import Check, Exam, Image, Index, Measurement, Reading, Study, Trace
from tableside.report.digits import significant
from tableside.report.study_json import study_document

Json = dict[str, Any]
Numbers = Mapping[str, int]
KEYED = {
    "images": "n",
    "measurements": "id",
    "indices": "name",
    "checks": "id",
    "findings": "id",
}
WHOLE = (
    "patient",
    "visit",
    "advice",
    "sufficiency",
    "protocol",
    "traces",
    "rejected",
    "notes",
    "cautions",
)


def numbers_of(images: Sequence[Image]) -> dict[str, int]:
    """Return the number of each image by its file."""
    return {image.file: number for number, image in enumerate(images)}


def image_json(image: Image) -> Json:
    """Return one image as it stands in study.json."""
    alone = Reading(exam=Exam(study=Study(images=(image,))))
    found: Json = study_document(alone)["images"][0]
    return found


def reading_json(now: Corrected, numbers: Numbers) -> Json:
    """Return a reading as it travels."""
    document = study_document(replace(now.reading, traces=()))
    document["traces"] = [_trace(one) for one in now.reading.traces]
    for image in document["images"]:
        image["n"] = numbers[image["file"]]
    _name_all(document["measurements"], now.reading.exam.measurements, now, numbers)
    return document


@lru_cache(maxsize=2000)
def _trace(one: Trace) -> Json:
    """Return a trace as it travels; made once, because no edit changes it."""
    found: Json = study_document(Reading(exam=Exam(), traces=(one,)))["traces"][0]
    return found


def refused_json(now: Corrected, numbers: Numbers) -> list[Json]:
    """Return the refused numbers as they travel."""
    alone = Reading(exam=Exam(measurements=now.refused))
    found: list[Json] = study_document(alone)["measurements"]
    _name_all(found, now.refused, now, numbers)
    return found


def numbers_json(
    parts: tuple[Sequence[Measurement], Sequence[Index], Sequence[Check]],
    now: Corrected,
    numbers: Numbers,
) -> Json:
    """Return some numbers and checks of a reading as they travel."""
    measurements, indices, checks = parts
    exam = Exam(measurements=tuple(measurements), indices=tuple(indices))
    some = Reading(exam=exam, checks=tuple(checks))
    document = study_document(some)
    _name_all(document["measurements"], measurements, now, numbers)
    return {name: document[name] for name in ("measurements", "indices", "checks")}


def difference(before: Json, after: Json) -> Json:
    """Return what changed between two readings as they travel; see `shapes.reading.Changed`."""
    changed: Json = {
        name: after.get(name) for name in WHOLE if before.get(name) != after.get(name)
    }
    removed: dict[str, list[str]] = {}
    order: dict[str, list[str]] = {}
    for name, key in KEYED.items():
        old = {one[key]: one for one in before[name]}
        new = {one[key]: one for one in after[name]}
        differing = [one for id_, one in new.items() if old.get(id_) != one]
        if differing:
            changed[name] = differing
        gone = [str(id_) for id_ in old if id_ not in new]
        if gone:
            removed[name] = gone
        if list(old) != list(new):
            order[name] = [str(id_) for id_ in new]
    return {**changed, "removed": removed, "order": order}


def _name_all(
    documents: list[Json], records: Sequence[Measurement], now: Corrected, numbers: Numbers
) -> None:
    for one, record in zip(documents, records, strict=True):
        id_ = measurement_id(record)
        one["id"] = id_
        one["decision"] = _decision(record, now)
        one["remarkable"] = remarkable(record, now.reading)
        waiting = {place: list(names) for place, names in now.names[id_].items()}
        for beat, beat_record in zip(one["beats"], record.beats, strict=True):
            name: BeatName = waiting[where(beat_record)].pop(0)
            points = editable_points(record, beat_record, now.reading.traces)
            beat["id"] = str(name)
            beat["n"] = numbers[name.file]
            beat["by_hand"] = name in now.moved
            beat["points"] = [[significant(x), significant(y)] for x, y in points]


def _decision(record: Measurement, now: Corrected) -> Json:
    told: Json = {"state": state_of(record, now.decided)}
    decision = now.decided.get(measurement_id(record))
    if decision is not None:
        told |= {"who": decision.who, "at": decision.at, "version": decision.version}
    return told
