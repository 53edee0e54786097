"""Who the report is about: patient attributes, and the observation context of its content.

Sources: DICOM PS3.3 C.7.1.1 (Patient), C.7.2.2 (Patient Study); PS3.16 TID 1001, 1004, 1007.
"""

from collections.abc import Mapping
from datetime import date
from functools import cache
from typing import Any

from tableside.model import Patient, Sex, Species
from tableside.report.codes import Coded, code
from tableside.report.content import coded, concept, words

CONTEXT = "HAS OBS CONTEXT"
ROOT = "2.25.339636980001153138595054404442282190207"  # of this program, from a random UUID
SEX_LETTER = {True: "M", False: "F"}
SEX_CODE = {
    True: Coded("DCM", "M", "Male"),
    False: Coded("DCM", "F", "Female"),
}
BREED_ENDINGS = ("", " dog breed", " dog", " cat breed", " cat")


@cache
def _breeds() -> Mapping[str, Coded]:
    """Return the breeds of CID 7480 by their lower-case name."""
    from pydicom.sr.codedict import codes  # noqa: PLC0415
    from pydicom.sr.coding import Code  # noqa: PLC0415

    listed = (getattr(codes.cid7480, name) for name in dir(codes.cid7480))
    return {
        one.meaning.lower(): Coded(one.scheme_designator, one.value, one.meaning)
        for one in listed
        if isinstance(one, Code)
    }


def breed_code(breed: str | None) -> Coded | None:
    """Return the code of a breed as people write it, or None where it has none."""
    name = " ".join((breed or "").lower().split())
    known = _breeds() if name else {}
    return next((known[name + end] for end in BREED_ENDINGS if name + end in known), None)


def person_name(patient: Patient) -> str:
    """Return owner and animal as a person name: ``Alder^Bramble`` (PS3.5 6.2.1.1)."""
    owner, animal = (_name_part(part) for part in (patient.owner, patient.name))
    return f"{owner}^{animal}" if owner or animal else ""


def _name_part(part: str | None) -> str:
    return _one_line((part or "").replace("^", " ").replace("=", " "))[:60].strip()


def _one_line(text: str | None) -> str:
    """Return a text as LO allows it: no backslash, no control character (PS3.5 6.2)."""
    kept = (
        " " if letter == "\\" or not letter.isprintable() else letter for letter in text or ""
    )
    return "".join(kept)[:64].strip()


def patient_attributes(patient: Patient) -> Mapping[str, Any]:
    """Return patient and patient-study attributes by keyword.

    Notes
    -----
    Where the animal is known to be one (species present) the standard asks for breed, breed
    registration, neuter status and responsible person; what is not known is sent empty.
    """
    fields: dict[str, Any] = {
        "PatientName": person_name(patient),
        "PatientID": _one_line(patient.id),
        "PatientBirthDate": _da(patient.birth_date),
        "PatientSex": SEX_LETTER[patient.sex.is_male] if patient.sex else "",
    }
    if patient.weight_kg is not None:
        fields["PatientWeight"] = f"{patient.weight_kg:g}"
    if patient.species is not None:
        fields |= _animal(patient, patient.species)
    return fields


def _animal(patient: Patient, species: Species) -> dict[str, Any]:
    breed = breed_code(patient.breed)
    neutered = patient.sex in (Sex.FEMALE_NEUTERED, Sex.MALE_NEUTERED)
    status = ("ALTERED" if neutered else "UNALTERED") if patient.sex else ""
    owner = _name_part(patient.owner)
    return {
        "PatientSpeciesCodeSequence": [concept(code("species", species))],
        "PatientBreedDescription": _one_line(patient.breed),
        "PatientBreedCodeSequence": [concept(breed)] if breed else [],
        "BreedRegistrationSequence": [],
        "PatientSexNeutered": status,
        "ResponsiblePerson": f"{owner}^" if owner else "",
        **({"ResponsiblePersonRole": "OWNER"} if owner else {}),
        "ResponsibleOrganization": "",
    }


def observation_context(patient: Patient, version: str) -> list[Any]:
    """Return who observed (this program) and who was observed (TID 1001)."""
    return [*_observer(version), *_subject(patient)]


def _observer(version: str) -> list[Any]:
    from highdicom.sr import UIDRefContentItem  # noqa: PLC0415

    device = Coded("DCM", "121007", "Device")
    return [
        coded(Coded("DCM", "121005", "Observer Type"), device, CONTEXT),
        UIDRefContentItem(
            concept(Coded("DCM", "121012", "Device Observer UID")),
            ROOT,
            relationship_type=CONTEXT,
        ),
        words(Coded("DCM", "121013", "Device Observer Name"), "tableside", CONTEXT),
        words(
            Coded("DCM", "121015", "Device Observer Model Name"),
            f"tableside {version}",
            CONTEXT,
        ),
    ]


def _subject(patient: Patient) -> list[Any]:
    """Return the subject context of a patient (TID 1006, TID 1007)."""
    from highdicom.sr import DateContentItem, PnameContentItem  # noqa: PLC0415

    kind = Coded("DCM", "121025", "Patient")
    items = [coded(Coded("DCM", "121024", "Subject Class"), kind, CONTEXT)]
    if person_name(patient):
        name = concept(Coded("DCM", "121029", "Subject Name"))
        items.append(PnameContentItem(name, person_name(patient), relationship_type=CONTEXT))
    if patient.id:
        items.append(words(Coded("DCM", "121030", "Subject ID"), patient.id, CONTEXT))
    if patient.birth_date:
        name = concept(Coded("DCM", "121031", "Subject Birth Date"))
        items.append(DateContentItem(name, patient.birth_date, relationship_type=CONTEXT))
    if patient.sex:
        sex = SEX_CODE[patient.sex.is_male]
        items.append(coded(Coded("DCM", "121032", "Subject Sex"), sex, CONTEXT))
    if patient.species:
        species = code("species", patient.species)
        items.append(coded(Coded("DCM", "121034", "Subject Species"), species, CONTEXT))
    breed = breed_code(patient.breed)
    if breed:
        items.append(coded(Coded("DCM", "121035", "Subject Breed"), breed, CONTEXT))
    return items


def _da(day: date | None) -> str:
    return day.strftime("%Y%m%d") if day else ""
