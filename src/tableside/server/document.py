"""Records to the JSON that travels: study.json with the ids by which edits name things."""

import json
from collections.abc import Sequence
from typing import Any

from tableside.model import Exam, Image, Measurement, Reading, Study
from tableside.report.study_json import study_json

Json = dict[str, Any]


def numbers_of(images: Sequence[Image]) -> dict[str, int]:
    """Return the number of each image by its file."""
    return {image.file: number for number, image in enumerate(images)}


def image_json(image: Image) -> Json:
    """Return one image as it stands in study.json."""
    alone = Reading(exam=Exam(study=Study(images=(image,))))
    found: Json = json.loads(study_json(alone))["images"][0]
    return found


def reading_json(reading: Reading, numbers: dict[str, int]) -> Json:
    """Return a reading as it travels."""
    document: Json = json.loads(study_json(reading))
    for image in document["images"]:
        image["n"] = numbers[image["file"]]
    for one, record in zip(document["measurements"], reading.exam.measurements, strict=True):
        _name(one, record, numbers)
    return document


def _name(one: Json, record: Measurement, numbers: dict[str, int]) -> None:
    one["id"] = record.id
    one["decision"] = {"state": "by hand" if record.method == "caliper" else "open"}
    one["remarkable"] = []
    counts: dict[str, int] = {}
    for beat in one["beats"]:
        file = beat["file"]
        place = counts[file] = counts.get(file, -1) + 1
        beat["n"] = numbers[file]
        beat["id"] = f"{numbers[file]}/{record.quantity}/{record.method}/{place}"
