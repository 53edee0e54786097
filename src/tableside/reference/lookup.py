"""Which published intervals hold for this animal, the one to look at first in front."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from typing import TypeVar

from tableside.model import Exam, Index, Measurement, Patient, Reference, quantities
from tableside.reference.laws import Limits
from tableside.reference.tables import Table, tables
from tableside.units import convert

N = TypeVar("N", Measurement, Index)
YEAR_DAYS = 365.25


def references(
    name: str,
    value: float,
    patient: Patient,
    *,
    detail: str | None = None,
    on: dt.date | None = None,
) -> tuple[Reference, ...]:
    """Return the published intervals for a number of this animal.

    Parameters
    ----------
    name : str
        A quantity or an index.
    value : float
        The number, in the unit of the quantity or of the index.
    patient : Patient
        Species, breed, sex, weight and birth date decide which intervals hold.
    detail : str, optional
        How the number was got: ``m-mode``, ``discs``, ``septal``, ``lateral``.
    on : date, optional
        Day of the visit; with the birth date it tells a growing animal.

    Returns
    -------
    tuple of Reference
        Those of the breed first, then those of the same method, then the rank of the
        publication; digits that are doubtful (confidence low) always last. Empty for an unknown
        species, for a growing animal, and outside the weights of each publication.
    """
    fitting = [one for one in tables() if name in one.rows and _holds(one, patient, detail, on)]
    fitting.sort(key=_order)
    return tuple(_references(fitting, name, value, patient.weight_kg))


def with_references(exam: Exam) -> Exam:
    """Return the examination with the published intervals beside every number."""
    return replace(
        exam,
        measurements=tuple(_beside(exam, one) for one in exam.measurements),
        indices=tuple(_beside(exam, one) for one in exam.indices),
    )


def _beside(exam: Exam, one: N) -> N:
    name = one.quantity if isinstance(one, Measurement) else one.name
    detail = _detail(exam, one)
    found = references(name, one.value, exam.patient, detail=detail, on=_day(exam))
    return replace(one, references=found)


def _day(exam: Exam) -> dt.date | None:
    """Return the day of the visit, or that of the first image."""
    taken = [image.acquired.date() for image in exam.study.images if image.acquired]
    return exam.visit.date or min(taken, default=None)


def _detail(exam: Exam, one: Measurement | Index) -> str | None:
    """Say how a number was got, in the words of the tables."""
    if isinstance(one, Index):
        if {"EDV", "ESV"} & set(one.inputs):
            return "discs"
        annulus = exam.measurement("E'") if "E'" in one.inputs else None
        return _side(exam, annulus) if annulus is not None else None
    return _side(exam, one) or one.detail


def _side(exam: Exam, one: Measurement) -> str | None:
    flows = {image.flow for file in one.files if (image := exam.image(file)) and image.flow}
    flows |= {one.detail} if one.detail else set()
    sides = {flow.rpartition(" ")[2] for flow in flows if flow.startswith("mitral annulus ")}
    return sides.pop() if len(sides) == 1 else None


def _holds(table: Table, patient: Patient, detail: str | None, on: dt.date | None) -> bool:
    return (
        table.species is patient.species
        and table.is_for_sex(patient.sex)
        and table.detail in (None, detail)
        and _is_of_breed(table, patient.breed)
        and _is_grown(patient, on, table.age_from_y)
        and _is_of_weight(table, patient.weight_kg)
    )


def _is_of_breed(table: Table, breed: str | None) -> bool:
    name = _letters(breed or "")
    if name in {_letters(other) for other in table.not_breeds}:
        return False
    return not table.breeds or name in {_letters(one) for one in table.breeds}


def _letters(breed: str) -> str:
    return "".join(letter for letter in breed.casefold() if letter.isalpha())


def _is_grown(patient: Patient, on: dt.date | None, from_y: float) -> bool:
    """Return whether the animal is old enough; an unknown age counts as grown."""
    if patient.birth_date is None or on is None:
        return True
    return (on - patient.birth_date).days >= from_y * YEAR_DAYS


def _is_of_weight(table: Table, weight_kg: float | None) -> bool:
    if table.weight_kg is None or weight_kg is None:
        return True
    low, high = table.weight_kg
    return low <= weight_kg <= high


def _order(table: Table) -> tuple[bool, bool, bool, int, str]:
    return (
        table.confidence == "low",
        not table.breeds,
        table.detail is None,
        table.rank,
        table.source,
    )


def _references(
    fitting: list[Table], name: str, value: float, weight_kg: float | None
) -> Iterator[Reference]:
    for table in fitting:
        law, unit = table.rows[name], table.unit
        factor = convert(1.0, unit, quantities()[name].unit if name in quantities() else unit)
        limits = law.limits(weight_kg)
        if limits is not None:
            z = law.z(value / factor, weight_kg)
            yield _reference(table, _times(limits, factor), z)


def _times(limits: Limits, factor: float) -> Limits:
    low, high = (None if end is None else end * factor for end in (limits.low, limits.high))
    return Limits(low, high)


def _reference(table: Table, limits: Limits, z: float | None) -> Reference:
    population = table.population if table.n is None else f"{table.population}, n = {table.n}"
    how = {
        "normal": "mean ± 1.96 SD",
        "linear": "line ± 1.96 SD",
        "range": "range of the sample",
    }
    notes = (
        how.get(table.kind),
        table.method,
        table.note,
        "digits not read on a page: check the publication" if table.read == "memory" else None,
    )
    return Reference(
        source=table.source,
        population=population,
        low=limits.low,
        high=limits.high,
        z=z,
        read=table.read,
        note="; ".join(filter(None, notes)) or None,
    )
