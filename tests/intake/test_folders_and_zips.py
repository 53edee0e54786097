"""Where files may lie: folders, zips, single files, media with an index, other objects."""

import gc
import zipfile
from pathlib import Path

import pytest
from pydicom import dcmread
from pydicom.data import get_testdata_file
from pydicom.fileset import FileSet

from intake.made_dicom import image, save
from tableside.errors import NotFound, OutOfRange
from tableside.intake import open_study
from tableside.intake.kinds import FileKind, file_kind


def test_files_are_found_by_content_at_any_depth(tmp_path: Path) -> None:
    save(image(), tmp_path / "a" / "b" / "c.jpg")  # the name lies
    save(image(), tmp_path / "IM0001")
    (tmp_path / ".DS_Store").write_bytes(b"x")
    with open_study(tmp_path) as opened:
        assert [one.file for one in opened.study.images] == ["IM0001", "a/b/c.jpg"]
        assert opened.path("a/b/c.jpg") == tmp_path / "a" / "b" / "c.jpg"
        assert opened.study.rejected == ()


def test_a_zip_is_read_like_its_folder_with_its_worksheet(tmp_path: Path) -> None:
    inside = save(image(), tmp_path / "x").read_bytes()
    with zipfile.ZipFile(tmp_path / "study.zip", "w") as bundle:
        bundle.writestr("export/one", inside)
        bundle.writestr(
            "export/worksheet.toml",
            "[patient]\nbreed = 'Beagle'\n[[image]]\nfile = 'one'\nflow = 'mitral inflow'\n",
        )
    with open_study(tmp_path / "study.zip") as opened:
        (one,) = opened.study.images
        assert (one.file, one.flow) == ("export/one", "mitral inflow")
        assert opened.study.patient.breed == "Beagle"
        assert opened.frame("export/one").shape == (48, 64)
        assert opened.path("export/one").is_file()


def test_one_file_is_a_study(tmp_path: Path) -> None:
    with open_study(save(image(), tmp_path / "a")) as opened:
        assert [one.file for one in opened.study.images] == ["a"]


@pytest.mark.filterwarnings("ignore::ResourceWarning")  # pydicom leaves a folder to the end
def test_a_medium_with_an_index_passes_over_its_viewer(tmp_path: Path) -> None:
    """pydicom writes the DICOMDIR and its files as PS3.10 wants them."""
    index = FileSet()
    for number in range(2):
        save(image(SeriesInstanceUID=f"1.2.{number}"), tmp_path / "in" / str(number))
        index.add(_complete(tmp_path / "in" / str(number)))
    index.write(tmp_path / "medium")
    del index
    gc.collect()
    (tmp_path / "medium" / "viewer.exe").write_bytes(b"MZ\x90")
    with open_study(tmp_path / "medium") as opened:
        assert len(opened.study.images) == 2
        assert opened.study.rejected == ()


def _complete(path: Path):
    whole = dcmread(path)
    whole.StudyTime, whole.StudyID, whole.SeriesNumber, whole.InstanceNumber = "1200", "1", 1, 1
    whole.file_meta.MediaStorageSOPInstanceUID = whole.SOPInstanceUID
    whole.AccessionNumber = ""
    return whole


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("test-SR.dcm", "structured report"),
        ("CT_small.dcm", "CT image"),
        ("MR_small.dcm", "MR image"),
        ("RG1_UNCR.dcm", "radiograph"),
        ("rtplan.dcm", "not an ultrasound"),
        ("waveform_ecg.dcm", "recording"),
    ],
)
def test_other_objects_are_named_and_kept_out(tmp_path: Path, name: str, words: str) -> None:
    found = get_testdata_file(name)
    assert isinstance(found, str)
    (tmp_path / "other").write_bytes(Path(found).read_bytes())
    save(image(), tmp_path / "good")
    with open_study(tmp_path) as opened:
        assert [one.file for one in opened.study.images] == ["good"]
        assert words in opened.study.rejected[0].reason


def test_asking_for_what_is_not_there(tmp_path: Path) -> None:
    save(image(3), tmp_path / "a")
    with open_study(tmp_path) as opened:
        with pytest.raises(NotFound, match="no image 'b'"):
            opened.frame("b")
        with pytest.raises(OutOfRange, match="0 to 2"):
            opened.frame("a", 3)


def test_an_object_without_a_preamble_is_recognised(tmp_path: Path) -> None:
    whole = save(image(), tmp_path / "a").read_bytes()
    (tmp_path / "b").write_bytes(whole[132:])
    assert file_kind(tmp_path / "b") is FileKind.DICOM
    with open_study(tmp_path / "b") as opened:
        assert opened.frame("b").shape == (48, 64)


def test_the_whole_real_study_opens(shared_data: Path) -> None:
    with open_study(shared_data / "human-echo") as opened:
        study = opened.study
    assert len(study.images) == 24  # maker B's patient has the most images
    assert len(study.rejected) == 15
    assert all("another patient" in one.reason for one in study.rejected)
