"""``study.json``: everything that was read, for programs (docs/study-json.md)."""

import json
import re
from collections.abc import Mapping, Sequence
from datetime import date
from math import isfinite
from typing import Any

from tableside.model import (
    Advice,
    Beat,
    Check,
    Finding,
    Image,
    Index,
    Measurement,
    Patient,
    Point,
    Reading,
    Reference,
    Region,
    Spread,
    Sufficiency,
    Visit,
)
from tableside.report.cautions import cautions
from tableside.report.digits import significant
from tableside.units import text

SCHEMA = "tableside.study/1"
NUMBER_LISTS = re.compile(r"\[\s+((?:-?[\d.eE+-]+,?\s+)+)\]")

Json = dict[str, Any]


def study_json(reading: Reading) -> str:
    """Write a reading as JSON.

    Parameters
    ----------
    reading : Reading

    Returns
    -------
    str
        A document of schema ``tableside.study/1``. The same reading gives the same text.

    Notes
    -----
    Numbers carry six significant digits. A number that does not exist is left out: it is
    never 0, NaN or null. A word that does not apply (a convention, a bound) is null.
    """
    spread_out = json.dumps(
        study_document(reading), ensure_ascii=False, indent=1, allow_nan=False
    )
    return NUMBER_LISTS.sub(_on_one_line, spread_out) + "\n"


def study_document(reading: Reading) -> Json:
    """Return a reading as the document that `study_json` writes."""
    study = reading.exam.study
    return {
        "schema": SCHEMA,
        "patient": _patient(study.patient),
        "visit": _visit(study.visit),
        "images": [_image(image) for image in study.images],
        "rejected": [{"file": one.file, "reason": one.reason} for one in study.rejected],
        "measurements": [
            _measurement(one) for one in reading.exam.measurements if isfinite(one.value)
        ],
        "indices": [_index(one) for one in reading.exam.indices if isfinite(one.value)],
        **_conclusions(reading),
        "traces": [
            {
                "file": one.file,
                "frame": one.frame,
                "name": one.name,
                "points": _points(one.points),
            }
            for one in reading.traces
        ],
        "notes": list(dict.fromkeys([*study.notes, *reading.notes])),
        "cautions": list(cautions(reading)),
    }


def _on_one_line(found: re.Match[str]) -> str:
    return "[" + " ".join(found.group(1).split()) + "]"


def _patient(patient: Patient) -> Json:
    return _without_none(
        id=patient.id,
        name=patient.name,
        species=patient.species,
        breed=patient.breed,
        sex=patient.sex,
        birth_date=_day(patient.birth_date),
        weight_kg=_number(patient.weight_kg),
        owner=patient.owner,
    )


def _visit(visit: Visit) -> Json:
    return _without_none(
        date=_day(visit.date),
        murmur_grade=visit.murmur_grade,
        systolic_pressure_mmHg=_number(visit.systolic_pressure_mmHg),
        systolic_pressure_readings=visit.systolic_pressure_readings,
        sedation=visit.sedation,
        vertebral_heart_score=_number(visit.vertebral_heart_score),
        signs=list(visit.signs) or None,
        ascites=visit.ascites,
    )


def _image(image: Image) -> Json:
    return _without_none(
        file=image.file,
        mode=image.mode,
        frames=image.frames,
        rows=image.rows,
        columns=image.columns,
        view=image.view,
        mmode=image.mmode,
        flow=image.flow,
        vendor=image.vendor,
        acquired=image.acquired.isoformat() if image.acquired else None,
        stated_heart_rate=_number(image.stated_heart_rate),
        regions=[_region(region) for region in image.regions],
        doubt=image.doubt,
        notes=list(image.notes) or None,
    )


def _region(region: Region) -> Json:
    axes: Json = {}
    for axis, along in ((region.x, "column"), (region.y, "row")):
        if axis is not None:
            unit = axis.unit.replace("/", "_")
            axes[f"{unit}_per_{along}"] = significant(abs(axis.per_pixel))
    if region.y is not None and region.y.unit == "m/s":
        axes["baseline_row"] = significant(region.baseline_row)
    return _without_none(
        kind=region.kind,
        box=list(region.box),
        **axes,
        source=region.source,
        wave=region.wave,
        doubt=region.doubt,
    )


def _measurement(one: Measurement) -> Json:
    return {
        "quantity": one.quantity,
        **_value(one),
        "method": one.method,
        **({"method_detail": one.detail} if one.detail else {}),
        "convention": one.convention,
        "bound": one.bound,
        "spread": _spread(one.spread),
        "beats": [_beat(beat) for beat in one.beats if isfinite(beat.value)],
        **({"edges": {k: significant(v) for k, v in one.edges.items()}} if one.edges else {}),
        **_references(one.references),
        **({"notes": list(one.notes)} if one.notes else {}),
    }


def _index(one: Index) -> Json:
    return {
        "name": one.name,
        **_value(one),
        "formula": one.formula,
        "inputs": list(one.inputs),
        "bound": one.bound,
        "assumptions": list(one.assumptions),
        "sources": list(one.sources),
        **_references(one.references),
    }


def _value(one: Measurement | Index) -> Json:
    return {
        "value": significant(one.value),
        "sd": significant(one.sd),
        "sd_repeat": significant(one.sd_total),
        "interval90": [significant(limit) for limit in one.interval90],
        "unit": text(one.unit),
    }


def _spread(spread: Spread) -> Json:
    origins = ("trace", "calibration", "beats", "acquisition", "reading")
    return {origin: significant(getattr(spread, origin)) for origin in origins}


def _beat(beat: Beat) -> Json:
    return _without_none(
        file=beat.file,
        frame=beat.frame,
        value=significant(beat.value),
        sd=significant(beat.sd) if beat.sd else None,
        time_s=_number(beat.time_s),
        points=_points(beat.points),
        used=beat.used,
        reason=beat.reason,
    )


def _references(references: Sequence[Reference]) -> Json:
    """Return the interval to look at first, and all of them."""
    if not references:
        return {}
    every = [_reference(one) for one in references]
    return {"reference": every[0], "references": every}


def _reference(one: Reference) -> Json:
    return _without_none(
        low=_number(one.low),
        high=_number(one.high),
        z=_number(one.z),
        population=one.population,
        source=one.source,
        read=one.read,
        note=one.note,
    )


def _conclusions(reading: Reading) -> Json:
    return {
        "checks": [_check(one) for one in reading.checks],
        "findings": [_finding(one) for one in reading.findings],
        "advice": [_advice(one) for one in sorted(reading.advice, key=lambda one: one.rank)],
        **_sufficiency(reading.sufficiency),
        "protocol": [
            _without_none(view=one.view, state=one.state, why=one.why)
            for one in reading.protocol
        ],
    }


def _check(one: Check) -> Json:
    return {
        "id": one.id,
        "verdict": one.verdict,
        **_if_known("probability_unusable", one.probability_unusable),
        "about": list(one.about),
        "message": one.message,
        "remedy": one.remedy,
        **_if_known("seconds", one.seconds),
        **_without_none(expected=one.expected),
        "files": list(one.files),
        "sources": list(one.sources),
    }


def _finding(one: Finding) -> Json:
    return {
        "id": one.id,
        "title": one.title,
        "statement": one.statement,
        "probability": _probabilities(one.probability),
        "source": one.source,
        "inputs": list(one.inputs),
        "missing": list(one.missing),
        "cautions": list(one.cautions),
    }


def _sufficiency(one: Sufficiency | None) -> Json:
    if one is None:
        return {}
    return {"sufficiency": {"verdict": one.verdict, "reason": one.reason}}


def _advice(one: Advice) -> Json:
    return {
        "rank": one.rank,
        "action": one.action,
        **_if_known("gain", one.gain),
        **_if_known("seconds", one.seconds),
        "about": list(one.about),
    }


def _probabilities(of_class: Mapping[str, float]) -> Json:
    return {name: significant(share) for name, share in of_class.items()}


def _points(points: Sequence[Point]) -> list[list[float]]:
    return [[significant(x), significant(y)] for x, y in points]


def _number(value: float | None) -> float | None:
    return None if value is None or not isfinite(value) else significant(value)


def _if_known(name: str, value: float | None) -> Json:
    number = _number(value)
    return {} if number is None else {name: number}


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _without_none(**fields: Any) -> Json:
    return {name: value for name, value in fields.items() if value is not None}
