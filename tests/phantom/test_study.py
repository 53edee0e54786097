"""Whole studies: stored objects against the validator, the worksheet against its contract."""

import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy as np
import pydicom
import pytest

from tableside.model import FLOWS, MMODE_LEVELS, quantities
from tableside.phantom.demo import JET_SHOWN_M_S, JET_TRUE_M_S, demo_spec
from tableside.phantom.heart_base import HeartBaseSpec, heart_base
from tableside.phantom.study import StudySpec, demo_study, make_study

VISIT_KEYS = {
    "date", "murmur_grade", "systolic_pressure_mmHg", "systolic_pressure_readings",
    "sedation", "vertebral_heart_score", "signs", "ascites",
}  # fmt: skip
PATIENT_KEYS = {"id", "name", "species", "breed", "sex", "birth_date", "weight_kg"}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "study"
    demo_study(folder)
    return folder


def validator_says(path: Path) -> str:
    program = shutil.which("dciodvfy", path=str(Path(sys.executable).parent))
    assert program is not None, "dicom3tools is a development dependency"
    done = subprocess.run([program, str(path)], capture_output=True, text=True, check=False)
    return done.stdout + done.stderr


def test_every_object_passes_the_validator(demo: Path) -> None:
    # dciodvfy of dicom3tools checks an object against PS3.3.
    for path in sorted(demo.glob("*.dcm")):
        said = validator_says(path)
        assert "Error" not in said, f"{path.name}: {said}"
        assert "Warning" not in said, f"{path.name}: {said}"


@pytest.mark.parametrize("coding", ["rle", "raw"])
def test_other_codings_pass_the_validator_too(tmp_path: Path, coding: str) -> None:
    make_study(tmp_path / "s", StudySpec(flows={}, clip_frames=2, coding=coding), 3)
    for path in sorted((tmp_path / "s").glob("*.dcm")):
        assert "Error" not in validator_says(path)
        assert pydicom.dcmread(path).pixel_array.std() > 10


def test_demo_is_small(demo: Path) -> None:
    assert sum(path.stat().st_size for path in demo.iterdir()) < 15e6


def test_a_study_repeats_byte_for_byte(tmp_path: Path) -> None:
    spec = StudySpec(clip_frames=2)
    for name in ("one", "again"):
        make_study(tmp_path / name, spec, 8)
    files = sorted(path.name for path in (tmp_path / "one").iterdir())
    assert len(files) == 12
    for name in files:
        one, again = (tmp_path / folder / name for folder in ("one", "again"))
        assert one.read_bytes() == again.read_bytes()


def test_worksheet_has_the_keys_of_the_contract(demo: Path) -> None:
    sheet = tomllib.loads((demo / "worksheet.toml").read_text(encoding="utf-8"))
    assert sheet.keys() <= {"patient", "visit", "image", "caliper"}
    assert sheet["patient"].keys() <= PATIENT_KEYS
    assert sheet["visit"].keys() <= VISIT_KEYS
    for image in sheet["image"]:
        assert image.keys() <= {"file", "view", "mmode", "flow"}
        assert (demo / image["file"]).is_file()
        assert image.get("mmode", MMODE_LEVELS[0]) in MMODE_LEVELS
        assert image.get("flow", FLOWS[0]) in FLOWS
    for caliper in sheet["caliper"]:
        assert caliper["quantity"] in quantities()
        assert len(caliper["points"]) == 2


def test_calipers_measure_the_truth_through_the_stored_scale(tmp_path: Path) -> None:
    spec = StudySpec(flows={}, clip_frames=20, left_atrium_to_aorta=1.5)
    truth = make_study(tmp_path / "s", spec, 4)
    sheet = tomllib.loads((tmp_path / "s" / "worksheet.toml").read_text(encoding="utf-8"))
    for caliper in sheet["caliper"]:
        stored = pydicom.dcmread(tmp_path / "s" / caliper["file"])
        (region,) = stored.SequenceOfUltrasoundRegions
        one, other = np.array(caliper["points"])
        length_cm = np.hypot(*(one - other)) * region.PhysicalDeltaX
        assert length_cm == pytest.approx(truth[caliper["quantity"]], abs=0.08)


def test_truth_lies_beside_the_folder_not_in_it(tmp_path: Path) -> None:
    truth = make_study(tmp_path / "s", StudySpec(clip_frames=2, flows={}), 5)
    kept = tomllib.loads((tmp_path / "s-truth.toml").read_text(encoding="utf-8"))
    assert kept["truth"]["LVIDd"] == pytest.approx(truth["LVIDd"], abs=1e-4)
    assert {path.suffix for path in (tmp_path / "s").iterdir()} == {".dcm", ".toml"}


def test_objects_carry_the_animal(demo: Path) -> None:
    # Keywords and codes: PS3.3 C.7.1.1 and C.7.2.2; SNOMED CT 448771007 Canis lupus familiaris.
    stored = pydicom.dcmread(demo / "I0003.dcm", stop_before_pixels=True)
    assert stored.PatientSpeciesCodeSequence[0].CodeValue == "448771007"
    assert stored.PatientBreedCodeSequence[0].CodeValue == "66495005"
    assert stored.PatientSexNeutered == "ALTERED"
    assert float(stored.PatientWeight) == 9.6
    assert stored.ResponsiblePersonRole == "OWNER"


def test_demo_jet_was_crossed_at_a_wide_angle() -> None:
    # The pressures want sqrt((145 - 15) / 4) = 5.70 m/s (simplified Bernoulli equation).
    assert pytest.approx(5.70, abs=0.005) == JET_TRUE_M_S
    jet = demo_spec().flows["mitral regurgitation"]
    assert JET_TRUE_M_S * np.cos(np.radians(jet.angle_deg)) == pytest.approx(JET_SHOWN_M_S)
    assert 50 < jet.angle_deg < 60


def test_atrium_is_measured_on_the_first_frame_after_valve_closure() -> None:
    clip = heart_base(HeartBaseSpec(left_atrium_to_aorta=1.7), 6)
    closures = [beat.closure_s for beat in clip.beats if beat.closure_s >= 0]
    assert 0 <= clip.frame / 30 - min(closures) <= 1 / 30 + 1e-9
    assert clip.truth["LA"] / clip.truth["Ao"] == pytest.approx(1.7, rel=0.06)


def test_walls_stand_where_the_caliper_ends() -> None:
    clip = heart_base(HeartBaseSpec(left_atrium_to_aorta=1.7), 6)
    picture = clip.pixels[clip.frame].astype(float)
    for ends in clip.points.values():
        one, other = np.array(ends)
        middle = picture[tuple(np.round((one + other) / 2).astype(int)[::-1])]
        beyond = [
            picture[tuple(np.round(end + (end - (one + other) / 2) * 0.06).astype(int)[::-1])]
            for end in (one, other)
        ]
        assert max(beyond) > middle + 40
