"""One study, one patient: who it is, and which images show someone else."""

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

from tableside.intake.opened_file import OpenedFile
from tableside.intake.weight import weight_notes
from tableside.model import Patient, Rejected, Visit

if TYPE_CHECKING:
    from tableside.intake.worksheet_keys import Worksheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The patient and visit of the study, the files that show them, and the others."""

    patient: Patient
    visit: Visit
    files: tuple[OpenedFile, ...]
    rejected: tuple[Rejected, ...] = ()
    notes: tuple[str, ...] = ()


def choose_patient(files: Sequence[OpenedFile], worksheet: "Worksheet | None") -> Chosen:
    """Settle on one patient; images of two animals are never mixed.

    The worksheet's id decides when an image carries it, else the patient with the most images.
    Stills, films and objects without a name go with the chosen patient.
    """
    written = _written(worksheet)
    keys = Counter(one.animal.key for one in files if one.animal and one.animal.key)
    chosen = _chosen(files, _chosen_key(keys, written.id))
    kept = tuple(one for one in files if not _is_other(one, chosen))
    others = tuple(one for one in files if _is_other(one, chosen))
    stated = _stated(kept)
    patient = _filled(written, stated)
    visit = _visit(worksheet, kept)
    notes = [
        *_notes_on_two(keys, chosen.id or chosen.name, others),
        *_notes_on_id(written, stated),
        *_notes_on_dates(kept),
        *_notes_on_age(written, patient, kept),
        *weight_notes(patient, written.weight_kg, stated.weight_kg),
    ]
    return Chosen(
        patient=patient,
        visit=visit,
        files=kept,
        rejected=tuple(map(_rejected, others)),
        notes=tuple(notes),
    )


def _chosen(files: Sequence[OpenedFile], key: str | None) -> Patient:
    """Return what the first image with the key says of its patient."""
    found = (one.animal.patient for one in files if one.animal and one.animal.key == key)
    return next(found, Patient())


def _is_other(one: OpenedFile, chosen: Patient) -> bool:
    return one.animal is not None and one.animal.is_other_than(chosen.id, chosen.name)


def _rejected(one: OpenedFile) -> Rejected:
    who = one.animal.key if one.animal else None
    reason = f"shows another patient ({who}): put it into a folder of its own"
    return Rejected(file=one.image.file, reason=reason)


def _chosen_key(keys: Counter[str], written_id: str | None) -> str | None:
    if written_id is not None and written_id in keys:
        return written_id
    return keys.most_common(1)[0][0] if keys else None


def _written(worksheet: "Worksheet | None") -> Patient:
    return Patient(**worksheet.patient.model_dump()) if worksheet else Patient()


def _stated(files: Sequence[OpenedFile]) -> Patient:
    """Return what the headers say, the first that says it."""
    patient = Patient()
    for one in files:
        if one.animal is not None:
            patient = _filled(patient, one.animal.patient)
    return patient


def _filled(first: Patient, other: Patient) -> Patient:
    """Return the first record, its gaps filled from the other."""
    gaps = {
        field.name: getattr(other, field.name)
        for field in fields(Patient)
        if getattr(first, field.name) is None
    }
    return replace(first, **gaps)


def _visit(worksheet: "Worksheet | None", files: Sequence[OpenedFile]) -> Visit:
    visit = Visit(**worksheet.visit.model_dump()) if worksheet else Visit()
    days = _days(files)
    return replace(visit, date=days[0]) if visit.date is None and days else visit


def _days(files: Sequence[OpenedFile]) -> list[dt.date]:
    """Return the days of the images, the most frequent first."""
    dates = Counter(one.animal.date for one in files if one.animal and one.animal.date)
    return [day for day, _ in dates.most_common() if day is not None]


def _notes_on_age(written: Patient, patient: Patient, files: Sequence[OpenedFile]) -> list[str]:
    is_reckoned = any(one.animal.is_age for one in files if one.animal)
    if not is_reckoned or patient.birth_date is None or written.birth_date is not None:
        return []
    return [f"the birth date is reckoned from the age in the images ({patient.birth_date})"]


def _notes_on_two(
    keys: Counter[str], key: str | None, others: Sequence[OpenedFile]
) -> list[str]:
    if not others:
        return []
    names = ", ".join(f"{name} ({count})" for name, count in keys.most_common())
    return [
        f"the study holds images of {len(keys)} patients, with the number of images {names}; "
        f"only those of {key} were read. If another is meant, write its id into the worksheet."
    ]


def _notes_on_id(written: Patient, stated: Patient) -> list[str]:
    if written.id is None or stated.id is None or written.id == stated.id:
        return []
    return [
        f"the worksheet says patient {written.id}, the images say {stated.id}: check that they "
        "belong together"
    ]


def _notes_on_dates(files: Sequence[OpenedFile]) -> list[str]:
    days = _days(files)
    if len(days) < 2:
        return []
    listed = ", ".join(str(day) for day in sorted(days))
    return [f"the images are of {len(days)} days ({listed}); a study should be one visit"]
