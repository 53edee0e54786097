"""The letter's table: each number beside its reference interval."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from math import isfinite
from typing import Any

from tableside.model import Index, Measurement, Number, Reading, Reference, quantities
from tableside.report.bands import band, limits, place
from tableside.report.citations import Citations
from tableside.report.codes import PATIENT, coding_of, site_titles, words_of
from tableside.report.digits import decimals, with_sd, written
from tableside.units import text

Json = dict[str, Any]
SHOWN_SOURCES = 3  # of one number; study.json has them all


def measurement_table(
    reading: Reading, cited: Citations, doubted: Mapping[str, Sequence[str]]
) -> list[Json]:
    """Return the sections of the table with their rows, in the order of the heart's parts."""
    exam = reading.exam
    titles = {**site_titles(), PATIENT: "Body"}
    sections: dict[str, list[Json]] = {site: [] for site in titles}
    order = list(quantities())
    measured = sorted(exam.measurements, key=lambda one: order.index(one.quantity))
    numbers: tuple[Number, ...] = (*measured, *exam.indices)
    for one in numbers:
        if isfinite(one.value):
            images = [image for file in _files(one) if (image := exam.image(file))]
            sections[coding_of(one, images).site].append(_row(one, doubted, cited))
    return [{"title": titles[site], "rows": rows} for site, rows in sections.items() if rows]


def _files(one: Number) -> tuple[str, ...]:
    return one.files if isinstance(one, Measurement) else ()


def _row(one: Number, doubted: Mapping[str, Sequence[str]], cited: Citations) -> Json:
    name, meaning = _name(one)
    references = one.references[:SHOWN_SOURCES]
    return {
        "name": name,
        "meaning": meaning,
        "value": _value(one),
        "unit": text(one.unit),
        "doubted": _doubt(name, doubted),
        "references": [_reference(one, reference, cited) for reference in references],
    }


def _doubt(name: str, doubted: Mapping[str, Sequence[str]]) -> str:
    roots = doubted.get(name, ())
    return (
        "doubtful"
        if name in roots
        else f"rests on doubtful {', '.join(roots)}"
        if roots
        else ""
    )


def _name(one: Number) -> tuple[str, str]:
    if isinstance(one, Index):
        return one.name, words_of(one)
    detail = "M\u2011mode" if one.detail == "m-mode" else one.detail  # does not break
    how = "by caliper" if one.method == "caliper" else detail
    meaning = quantities()[one.quantity].name
    return one.quantity, f"{meaning}, {how}" if how else meaning


def _value(one: Number) -> str:
    if one.bound == "lower":
        floor = written(one.value, decimals(one.sd, one.value))
        return f"at least {floor}"
    return with_sd(one.value, one.sd)


def _population(reference: Reference) -> str:
    """Return who the interval was read in, and what is shaky about it."""
    unread = "limits not read at their source" if reference.read == "memory" else None
    return "; ".join(filter(None, (reference.population, reference.note, unread)))


def _reference(one: Number, reference: Reference, cited: Citations) -> Json:
    drawn = band(one, reference)
    where = place(one.value, reference)
    return {
        "band": asdict(drawn) if drawn else None,
        "limits": limits(one, reference),
        "place": "" if where == "inside" else where,
        "population": _population(reference),
        "z": "" if reference.z is None else written(reference.z, 1),
        "source": cited.mark(reference.source),
    }
