"""The letter's table: each number beside its reference interval."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
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
SQUARED = re.compile(r"(?<=m)2\b")
SHOWN_SOURCES = 3  # of one number; study.json has them all


def measurement_table(
    reading: Reading, cited: Citations, doubted: Mapping[str, Sequence[str]]
) -> Json:
    """Return ``sections`` of numbers with a published interval, and the ``others``.

    Both stand in the order of the heart's parts (`site_titles`), measurements before indices.
    """
    titles = {**site_titles(), PATIENT: "Body"}
    rows: dict[str, list[Json]] = {site: [] for site in titles}
    for one in _in_order(reading):
        images = [image for file in _files(one) if (image := reading.exam.image(file))]
        rows[coding_of(one, images).site].append(_row(one, doubted, cited))
    sections = [
        {"title": titles[site], "rows": [row for row in here if row["references"]]}
        for site, here in rows.items()
    ]
    others = [row for here in rows.values() for row in here if not row["references"]]
    return {"sections": [one for one in sections if one["rows"]], "others": others}


def _in_order(reading: Reading) -> Iterator[Number]:
    order = list(quantities())
    measured = sorted(reading.exam.measurements, key=lambda one: order.index(one.quantity))
    numbers: tuple[Number, ...] = (*measured, *reading.exam.indices)
    yield from (one for one in numbers if isfinite(one.value))


def _files(one: Number) -> tuple[str, ...]:
    return one.files if isinstance(one, Measurement) else ()


def _row(one: Number, doubted: Mapping[str, Sequence[str]], cited: Citations) -> Json:
    name, meaning = _name(one)
    references = one.references[:SHOWN_SOURCES]
    return {
        "name": name,
        "meaning": meaning,
        "value": _value(one),
        "unit": _unit(one),
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


def _unit(one: Number) -> str:
    return SQUARED.sub("\u00b2", text(one.unit))


def _population(reference: Reference) -> str:
    return ", ".join(filter(None, (reference.population, reference.note)))


def _reference(one: Number, reference: Reference, cited: Citations) -> Json:
    drawn = band(one, reference)
    where = place(one.value, reference)
    return {
        "band": asdict(drawn) if drawn else None,
        "limits": limits(one, reference),
        "place": "" if where == "inside" else where,
        "unread": reference.read == "memory",
        "z": "" if reference.z is None else written(reference.z, 1),
        "source": cited.mark(reference.source, _population(reference)),
    }
