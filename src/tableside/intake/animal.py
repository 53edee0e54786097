"""The animal, as the header of a DICOM object describes it.

Source: DICOM PS3.3 C.7.1.1 (Patient) and C.7.2.2 (Patient Study); SNOMED CT codes of CID 7454.
"""

import datetime as dt
import re
from dataclasses import dataclass
from typing import Any

from pydicom.dataset import Dataset

from tableside.model import Patient, Sex, Species

_CODES = {"448771007": Species.DOG, "448169003": Species.CAT}
_WORDS = {
    Species.DOG: re.compile(r"\b(dogs?|canis|canine|k-?9)\b", re.IGNORECASE),
    Species.CAT: re.compile(r"\b(cats?|felis|feline)\b", re.IGNORECASE),
}
_DAYS = {"D": 1.0, "W": 7.0, "M": 30.4375, "Y": 365.25}
_ALTERED = {"ALTERED": True, "UNALTERED": False}


@dataclass(frozen=True, slots=True, kw_only=True)
class Animal:
    """Who and when, from one header. ``is_age`` marks a birth date reckoned from an age."""

    patient: Patient
    date: dt.date | None = None
    is_age: bool = False

    @property
    def key(self) -> str | None:
        """What tells one patient from another: the id, else the name."""
        return self.patient.id or self.patient.name

    def is_other_than(self, id_: str | None, name: str | None) -> bool:
        """Return whether the header shows someone else: by id, else by name, else unknown."""
        if self.patient.id is not None and id_ is not None:
            return self.patient.id != id_
        if self.patient.name is not None and name is not None:
            return self.patient.name.casefold() != name.casefold()
        return False


def animal(dataset: Dataset) -> Animal:
    """Read who is shown and when; what the header does not say stays None."""
    name, family = _names(dataset.get("PatientName"))
    date = _date(dataset.get("StudyDate")) or _date(dataset.get("ContentDate"))
    birth, is_age = _birth(dataset, date)
    return Animal(
        patient=Patient(
            id=_text(dataset.get("PatientID")),
            name=name,
            species=_species(dataset),
            breed=_breed(dataset),
            sex=_sex(dataset),
            birth_date=birth,
            weight_kg=_weight_kg(dataset.get("PatientWeight")),
            owner=_person(dataset.get("ResponsiblePerson")) or family,
        ),
        date=date,
        is_age=is_age,
    )


def _text(value: Any) -> str | None:
    cleaned = " ".join(str(value).split()) if value is not None else ""
    return "".join(sign for sign in cleaned if sign.isprintable())[:200] or None


def _names(value: Any) -> tuple[str | None, str | None]:
    """Return the animal's name and the family's: animals are ``family^name`` (PS3.5 6.2.1)."""
    text = _text(value)
    if text is None:
        return None, None
    family, _, rest = text.split("=")[0].partition("^")
    given = rest.split("^")[0].strip()
    return (given, family.strip() or None) if given else (family.strip() or None, None)


def _person(value: Any) -> str | None:
    """Return a person's name as it is spoken."""
    given, family = _names(value)
    return " ".join(filter(None, (given, family))) or None


def _species(dataset: Dataset) -> Species | None:
    for item in dataset.get("PatientSpeciesCodeSequence") or ():
        found = _CODES.get(str(item.get("CodeValue"))) or _named(item.get("CodeMeaning"))
        if found is not None:
            return found
    return _named(dataset.get("PatientSpeciesDescription"))


def _named(value: Any) -> Species | None:
    text = _text(value) or ""
    return next((kind for kind, words in _WORDS.items() if words.search(text)), None)


def _breed(dataset: Dataset) -> str | None:
    described = _text(dataset.get("PatientBreedDescription"))
    if described is not None:
        return described
    items = dataset.get("PatientBreedCodeSequence") or ()
    return next((_text(item.get("CodeMeaning")) for item in items), None)


def _sex(dataset: Dataset) -> Sex | None:
    sex = _text(dataset.get("PatientSex"))
    if sex not in ("M", "F"):
        return None
    is_neutered = _ALTERED.get(_text(dataset.get("PatientSexNeutered")) or "", False)
    return Sex(sex + "N") if is_neutered else Sex(sex)


def _weight_kg(value: Any) -> float | None:
    try:
        weight = float(value)
    except (TypeError, ValueError):
        return None
    return weight if 0 < weight < 1000 else None


def _birth(dataset: Dataset, date: dt.date | None) -> tuple[dt.date | None, bool]:
    """Return the birth date; reckoned from the age when only that is stated."""
    stated = _date(dataset.get("PatientBirthDate"))
    if stated is not None:
        return stated, False
    age = re.fullmatch(r"(\d{3})([DWMY])", _text(dataset.get("PatientAge")) or "")
    if age is None or date is None:
        return None, False
    days = int(age[1]) * _DAYS[age[2]]
    return (date - dt.timedelta(days=round(days)), True) if 0 < days < 36525 else (None, False)


def _date(value: Any) -> dt.date | None:
    try:
        return dt.datetime.strptime(str(value), "%Y%m%d").date()
    except ValueError:
        return None


def acquired(dataset: Dataset) -> dt.datetime | None:
    """Return when the image was taken, by the machine's clock; None when not stated."""
    both = str(dataset.get("AcquisitionDateTime") or "")[:14]
    pairs = [both[:8] + both[8:14]]
    for kind in ("Acquisition", "Content"):
        day, time = dataset.get(f"{kind}Date"), dataset.get(f"{kind}Time")
        pairs.append(f"{day or ''}{str(time or '')[:6]}")
    for text in pairs:
        try:
            return dt.datetime.strptime(text, "%Y%m%d%H%M%S")
        except ValueError:
            continue
    return None
