"""The worksheet: what it says, what wins, and one line for each way to get it wrong."""

import datetime as dt
from pathlib import Path

import pytest
from PIL import Image as Picture

from intake.made_dicom import image, save
from tableside.errors import WorksheetError
from tableside.intake import open_study
from tableside.model import Mode, RegionKind, Sex, Species, Study

# The example of the published format, word for word, with one image and one caliper.
WHOLE = """
[patient]
id = "K-0412"
name = "Bramble"
species = "dog"                  # dog | cat
breed = "Border Collie"
sex = "FN"                       # F | FN | M | MN
birth_date = 2017-05-02
weight_kg = 18.4

[visit]
date = 2026-03-14
murmur_grade = 3                 # of 6
systolic_pressure_mmHg = 142
systolic_pressure_readings = 5
sedation = "none"
vertebral_heart_score = 10.9
signs = ["cough"]
ascites = false

[[image]]
file = "a.png"
view = "right parasternal short axis, papillary muscles"
mmode = "left ventricle"

[image.scale]
rows_per_cm = 41.5
columns_per_s = 120.0
box = [40, 20, 299, 199]

[[caliper]]
quantity = "LVIDd"
file = "a.png"
frame = 0
points = [[98.0, 31.4], [98.0, 118.9]]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    Picture.new("RGB", (320, 240)).save(tmp_path / "a.png")
    return tmp_path


def read(folder: Path, text: str) -> Study:
    (folder / "worksheet.toml").write_text(text, encoding="utf-8")
    with open_study(folder) as opened:
        return opened.study


def complaint(folder: Path, text: str) -> str:
    with pytest.raises(WorksheetError) as caught:
        read(folder, text)
    line = str(caught.value)
    assert "\n" not in line and "worksheet.toml" in line
    return line


def test_the_published_example_is_read_as_written(folder: Path) -> None:
    study = read(folder, WHOLE)
    assert study.patient.id == "K-0412"
    assert study.patient.species is Species.DOG
    assert study.patient.sex is Sex.FEMALE_NEUTERED
    assert study.patient.birth_date == dt.date(2017, 5, 2)
    assert study.patient.weight_kg == 18.4
    assert study.visit.date == dt.date(2026, 3, 14)
    assert study.visit.systolic_pressure_mmHg == 142
    assert study.visit.signs == ("cough",) and study.visit.ascites is False
    (one,) = study.images
    assert (one.mode, one.mmode) == (Mode.M_MODE, "left ventricle")
    (found,) = one.regions
    assert found.source == "worksheet"
    assert found.length_cm((98, 31.4), (98, 31.4 + 83)) == pytest.approx(2.0)
    assert found.time_s(40, 160) == pytest.approx(1.0)
    assert study.calipers[0].points == ((98.0, 31.4), (98.0, 118.9))
    assert study.rejected == () and study.notes == ()


def test_a_spectrum_by_hand_has_up_positive_and_its_zero_line(folder: Path) -> None:
    """A published teaching screen (TTE47): E at row 433, 2.06 rows per cm/s, zero at 586."""
    Picture.new("RGB", (800, 700)).save(folder / "a.png")
    study = read(
        folder,
        '[[image]]\nfile = "a.png"\nflow = "mitral inflow"\n[image.scale]\n'
        "rows_per_m_s = 206.0\nbaseline_row = 586.0\ncolumns_per_s = 284.0\n",
    )
    (one,) = study.images
    found = one.regions[0]
    assert one.mode is Mode.SPECTRAL
    assert found.velocity_m_s(433) == pytest.approx(0.742, abs=0.005)  # printed 74.2 cm/s
    assert found.velocity_m_s(400.5) == pytest.approx(0.902, abs=0.005)  # printed 90.2 cm/s
    assert 60 / found.time_s(400, 653) == pytest.approx(67.4, abs=0.3)  # printed 67/min


def test_a_depth_scale_alone_is_a_2_d_picture(folder: Path) -> None:
    study = read(folder, '[[image]]\nfile = "a.png"\nscale = { rows_per_cm = 40 }\n')
    found = study.images[0].regions[0]
    assert found.kind is RegionKind.TWO_D
    assert found.length_cm((0, 0), (30, 40)) == pytest.approx(1.25)


def test_a_still_without_a_scale_is_looked_at_and_not_measured(folder: Path) -> None:
    (one,) = read(folder, "").images
    assert one.mode is Mode.UNKNOWN and one.regions == ()
    assert any("image.scale" in note for note in one.notes)


def test_the_worksheet_wins_and_dicom_fills_the_gaps(tmp_path: Path) -> None:
    save(
        image(PatientWeight="20", PatientSex="F", PatientSexNeutered="ALTERED"), tmp_path / "a"
    )
    study = read(tmp_path, '[patient]\nid = "K-1"\nweight_kg = 19.5\n')
    assert study.patient.weight_kg == 19.5
    assert study.patient.sex is Sex.FEMALE_NEUTERED
    assert study.patient.name == "Bramble" and study.patient.owner == "Example"
    assert study.visit.date == dt.date(2026, 3, 14)


def test_a_scale_by_hand_wins_over_that_of_the_file_and_says_so(tmp_path: Path) -> None:
    save(image(), tmp_path / "a")
    (one,) = read(tmp_path, '[[image]]\nfile = "a"\nscale = { rows_per_cm = 20 }\n').images
    assert [found.source for found in one.regions] == ["worksheet"]
    assert any("replaces" in note for note in one.notes)


def test_labels_are_taken_in_any_case_and_path_style(tmp_path: Path) -> None:
    save(image(), tmp_path / "deep" / "a")
    (one,) = read(
        tmp_path,
        '[[image]]\nfile = "deep\\\\a"\nview = "Subcostal, left ventricular outflow"\n',
    ).images
    assert one.view == "subcostal, left ventricular outflow"


def test_a_label_on_an_image_of_another_kind_is_remarked_on(tmp_path: Path) -> None:
    save(image(), tmp_path / "a")
    (one,) = read(tmp_path, '[[image]]\nfile = "a"\nflow = "mitral inflow"\n').images
    assert one.mode is Mode.TWO_D
    assert any("no spectral Doppler" in note for note in one.notes)


def test_of_two_worksheets_the_nearer_one_counts(tmp_path: Path) -> None:
    save(image(), tmp_path / "a")
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "worksheet.toml").write_text('[patient]\nbreed = "Pug"\n')
    study = read(tmp_path, '[patient]\nbreed = "Beagle"\n')
    assert study.patient.breed == "Beagle"
    assert [one.file for one in study.rejected] == ["old/worksheet.toml"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[patient]\nwieght_kg = 4", ["patient.wieght_kg", "weight_kg meant"]),
        ("[patient]\nweight_lb = 40.6", ["weight_lb", "weight_kg", "18.4 kg"]),
        ("[patient]\nweight_kg = '18.4 kg'", ["patient.weight_kg", "number without quotes"]),
        ("[patient]\nweight_kg = true", ["patient.weight_kg", "number"]),
        ("[patient]\nweight_kg = -3", ["patient.weight_kg = -3"]),
        ("[patient]\nweight_kg = nan", ["patient.weight_kg"]),
        ("[patient]\nweight_kg = 18400", ["patient.weight_kg = 18400", "150"]),
        ("[patient]\nspecies = 'horse'", ["patient.species", "'horse'", "dog or cat"]),
        ("[patient]\nsex = 'female'", ["patient.sex", "'female'", "F or FN"]),
        ("[patient]\nbirth_date = '2017-05-02'", ["patient.birth_date", "without quotes"]),
        ("[pateint]\nname = 'x'", ["pateint", "patient meant"]),
        ("[visit]\nmurmur_grade = 7", ["visit.murmur_grade = 7", "6"]),
        ("[visit]\nmurmur_grade = 3.5", ["visit.murmur_grade", "whole number"]),
        ("[visit]\nsystolic_pressure_kPa = 18", ["systolic_pressure_kPa", "_mmHg"]),
        ("[visit]\nsigns = 'cough'", ["visit.signs", "list"]),
        ("[visit]\nascites = 'no'", ["visit.ascites", "true or false"]),
        ("[[image]]\nfile='a.png'\nview='apical'", ["image[1].view", "left apical, four"]),
        ("[[image]]\nfile='a.png'\nflow='mitral'", ["image[1].flow", "mitral inflow"]),
        ("[[image]]\nfile='a.png'\nmmode='LV'", ["image[1].mmode", "left ventricle"]),
        ("[[image]]\nview='x'", ["image[1]", "file"]),
        ("[[image]]\nfile='a.png'\n[[image]]\nfile='a.png'", ["a.png", "twice"]),
        (
            "[[image]]\nfile='a.png'\nscale={rows_per_mm=4}",
            ["rows_per_mm", "rows_per_cm meant"],
        ),
        ("[[image]]\nfile='a.png'\nscale={rows_per_cm=0}", ["image[1].scale.rows_per_cm = 0"]),
        ("[[image]]\nfile='a.png'\nscale={columns_per_s=9}", ["image[1].scale", "rows_per_cm"]),
        (
            "[[image]]\nfile='a.png'\nscale={rows_per_m_s=66, columns_per_s=9}",
            ["image[1].scale", "baseline_row"],
        ),
        (
            "[[image]]\nfile='a.png'\n"
            "scale={rows_per_m_s=66, columns_per_s=9, baseline_row=900}",
            ["baseline_row = 900", "outside"],
        ),
        (
            "[[image]]\nfile='a.png'\nscale={rows_per_cm=9, box=[0, 0, 900, 10]}",
            ["box", "320 x 240"],
        ),
        (
            "[[image]]\nfile='a.png'\nscale={rows_per_cm=9, box=[10, 0, 5, 10]}",
            ["box", "left, top, right, bottom"],
        ),
        (
            "[[caliper]]\nquantity='LVEDD'\nfile='a.png'\npoints=[[1,1],[2,2]]",
            ["caliper[1].quantity", "LVEDD", "LVIDd"],
        ),
        (
            "[[caliper]]\nquantity='LA'\nfile='a.png'\npoints=[[1,1],[320,2]]",
            ["caliper[1]", "(320, 2)", "320 x 240"],
        ),
        (
            "[[caliper]]\nquantity='LA'\nfile='a.png'\npoints=[[-3,1],[3,2]]",
            ["caliper[1].points[1][1] = -3"],
        ),
        (
            "[[caliper]]\nquantity='LA'\nfile='a.png'\nframe=1\npoints=[[1,1],[3,2]]",
            ["caliper[1]", "frame = 1", "0 to 0"],
        ),
        ("[[caliper]]\nquantity='LA'\nfile='a.png'\npoints=[]", ["caliper[1].points"]),
        ("[[caliper]]\nquantity='LA'\nfile='a.png'\npoints=[[1,2,3]]", ["caliper[1].points"]),
        ("[[caliper]]\nquantity='LA'\nfile='a.png'\nunit='mm'\npoints=[[1,2]]", ["unit"]),
        ("caliper = 3", ["caliper", "list"]),
        ("patient = 3", ["patient = 3", "table"]),
        ("[patient\n", ["not valid TOML"]),
        (
            "[patient]\nbirth_date = 2026-05-02\n[visit]\ndate = 2026-03-14",
            ["birth_date", "after"],
        ),
    ],
)
def test_one_line_says_which_key_is_wrong_and_why(
    folder: Path, text: str, words: list[str]
) -> None:
    line = complaint(folder, text)
    assert [word for word in words if word not in line] == [], line


def test_bytes_that_are_no_text(folder: Path) -> None:
    (folder / "worksheet.toml").write_bytes(b"\xff\xfe\0x")
    with pytest.raises(WorksheetError, match="UTF-8"):
        open_study(folder)


def test_a_worksheet_that_is_named_must_be_there(folder: Path) -> None:
    with pytest.raises(WorksheetError, match="cannot be opened"):
        open_study(folder, folder / "other.toml")


def test_a_caliper_on_a_rejected_file_is_lost_with_the_reason(tmp_path: Path) -> None:
    save(image(), tmp_path / "a")
    (tmp_path / "b").write_bytes(b"")
    study = read(
        tmp_path,
        "[[caliper]]\nquantity='LA'\nfile='b'\npoints=[[1,1],[9,9]]\n"
        "[[caliper]]\nquantity='LA'\nfile='c'\npoints=[[1,1],[9,9]]\n"
        "[[image]]\nfile='d'\n",
    )
    assert study.calipers == ()
    reasons = {(one.file, one.reason) for one in study.rejected}
    assert any(file == "b" and "LA caliper" in reason for file, reason in reasons)
    assert any(file == "c" and "not in the study" in reason for file, reason in reasons)
    assert any(file == "d" and "not in the study" in reason for file, reason in reasons)


def test_one_file_is_read_with_the_worksheet_of_its_folder(folder: Path) -> None:
    Picture.new("L", (64, 48)).save(folder / "b.png")
    (folder / "worksheet.toml").write_text(WHOLE)
    with open_study(folder / "b.png") as opened:
        assert opened.study.patient.name == "Bramble"
        assert opened.study.calipers == () and opened.study.rejected == ()


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("[patient]\nweight_kg = -3\n", "patient.weight_kg = -3; it must be at least 0.05"),
        ("[visit]\nmurmur_grade = 7\n", "visit.murmur_grade = 7; it must be at most 6"),
        ("[patient]\nbreed = ''\n", "patient.breed = ''; it must not be empty"),
        ("[image]\nfile = 'a.png'\n", "it must be a list: write [[image]] in double brackets"),
        (
            "[[caliper]]\nquantity = 'LA'\nfile = 'a.png'\npoints = [[1, 1, 3], [2, 2]]\n",
            "caliper[1].points[1] = (1, 1, 3); it must hold at most 2",
        ),
        (
            "[[caliper]]\nquantity = 'LA'\nfile = 'a.png'\npoints = [[nan, 1], [2, 2]]\n",
            "caliper[1].points[1][1] = nan; it must be a number",
        ),
    ],
)
def test_a_limit_is_given_in_plain_words(folder: Path, text: str, line: str) -> None:
    with pytest.raises(WorksheetError) as caught:
        read(folder, text)
    assert line in str(caught.value)
