"""Who is shown: veterinary attributes, two patients in one folder, weights in pounds."""

import datetime as dt
from pathlib import Path

import pytest
from pydicom.dataset import Dataset

from intake.made_dicom import image, save
from tableside.intake import open_study
from tableside.intake.animal import animal
from tableside.intake.weight import weight_notes
from tableside.model import Patient, Sex, Species, Study


def read(folder: Path, worksheet: str | None = None) -> Study:
    if worksheet is not None:
        (folder / "worksheet.toml").write_text(worksheet)
    with open_study(folder) as opened:
        return opened.study


def code(value: str, meaning: str) -> list[Dataset]:
    item = Dataset()
    item.CodeValue, item.CodingSchemeDesignator, item.CodeMeaning = value, "SCT", meaning
    return [item]


def test_the_veterinary_attributes_of_the_standard() -> None:
    """PS3.3 C.7.1.1 and C.7.2.2; codes of CID 7454 and 7480 (SNOMED CT)."""
    found = animal(
        image(
            PatientSpeciesCodeSequence=code("448771007", "Canis lupus familiaris"),
            PatientBreedCodeSequence=code("42250008", "Boxer"),
            PatientSex="M",
            PatientSexNeutered="ALTERED",
            ResponsiblePerson="Hollis^Ada",
            PatientWeight="31.5",
            PatientBirthDate="20200229",
        )
    ).patient
    assert found == Patient(
        id="K-1",
        name="Bramble",
        species=Species.DOG,
        breed="Boxer",
        sex=Sex.MALE_NEUTERED,
        owner="Ada Hollis",
        weight_kg=31.5,
        birth_date=dt.date(2020, 2, 29),
    )


@pytest.mark.parametrize(
    ("words", "species"),
    [
        ("Canine", Species.DOG),
        ("CAT", Species.CAT),
        ("Felis catus", Species.CAT),
        ("equine", None),
        ("concatenated", None),
    ],
)
def test_a_species_in_words(words: str, species: Species | None) -> None:
    assert animal(image(PatientSpeciesDescription=words)).patient.species is species


def test_an_age_becomes_a_birth_date_and_says_so(tmp_path: Path) -> None:
    save(image(PatientAge="006Y"), tmp_path / "a")
    study = read(tmp_path)
    assert study.patient.birth_date is not None
    days = (dt.date(2026, 3, 14) - study.patient.birth_date).days
    assert days / 365.25 == pytest.approx(6, abs=0.01)
    assert any("reckoned from the age" in note for note in study.notes)


def test_empty_and_nonsense_attributes_are_absent(tmp_path: Path) -> None:
    save(
        image(
            PatientID="", PatientName="", PatientWeight="0", PatientSex="O", PatientAge="999Y"
        ),
        tmp_path / "a",
    )
    assert read(tmp_path).patient == Patient()


def test_images_of_two_patients_are_never_mixed(tmp_path: Path) -> None:
    for name, who in (("a", "K-1"), ("b", "K-1"), ("c", "K-2")):
        save(image(PatientID=who), tmp_path / name)
    study = read(tmp_path)
    assert [one.file for one in study.images] == ["a", "b"]
    assert [(one.file, "K-2" in one.reason) for one in study.rejected] == [("c", True)]
    assert any("2 patients" in note and "K-1" in note for note in study.notes)


def test_the_worksheet_decides_which_patient_is_meant(tmp_path: Path) -> None:
    for name, who in (("a", "K-1"), ("b", "K-1"), ("c", "K-2")):
        save(image(PatientID=who), tmp_path / name)
    study = read(tmp_path, '[patient]\nid = "K-2"\n')
    assert [one.file for one in study.images] == ["c"]
    assert study.patient.id == "K-2"


def test_names_tell_patients_apart_where_there_are_no_ids(tmp_path: Path) -> None:
    for name, who in (("a", "X^Bramble"), ("b", "X^BRAMBLE"), ("c", "X^Fern")):
        save(image(PatientID="", PatientName=who), tmp_path / name)
    assert [one.file for one in read(tmp_path).images] == ["a", "b"]


def test_another_id_in_the_worksheet_is_said(tmp_path: Path) -> None:
    save(image(), tmp_path / "a")
    study = read(tmp_path, '[patient]\nid = "K-9"\n')
    assert study.patient.id == "K-9" and len(study.images) == 1
    assert any("K-9" in note and "K-1" in note for note in study.notes)


def test_images_of_two_days_are_said(tmp_path: Path) -> None:
    save(image(), tmp_path / "a")
    save(image(StudyDate="20250101"), tmp_path / "b")
    assert any("2 days" in note for note in read(tmp_path).notes)


def test_a_weight_in_pounds_is_flagged_and_not_corrected(tmp_path: Path) -> None:
    """1 lb = 0.45359237 kg: 18.4 kg are 40.57 lb."""
    save(image(PatientWeight="40.6"), tmp_path / "a")
    study = read(tmp_path, "[patient]\nweight_kg = 18.4\n")
    assert study.patient.weight_kg == 18.4
    (note,) = study.notes
    assert "pounds" in note and "images' number" in note


@pytest.mark.parametrize(
    ("species", "breed", "weight_kg", "flagged"),
    [
        (Species.CAT, None, 40.0, True),
        (Species.CAT, "Maine Coon", 9.0, False),
        (Species.DOG, "Chihuahua", 12.0, True),
        (Species.DOG, "Border Collie", 40.6, True),
        (Species.DOG, "Border Collie", 18.4, False),
        (Species.DOG, "Great Dane", 80.0, False),
        (None, None, 70.0, False),
    ],
)
def test_a_weight_that_no_such_animal_has(
    species: Species | None, breed: str | None, weight_kg: float, flagged: bool
) -> None:
    patient = Patient(species=species, breed=breed, weight_kg=weight_kg)
    assert bool(weight_notes(patient, weight_kg, None)) is flagged


def test_two_weights_that_differ_are_said() -> None:
    patient = Patient(weight_kg=18.0)
    assert weight_notes(patient, 18.0, 18.5) == []
    assert "22 kg" in weight_notes(patient, 18.0, 22.0)[0]
