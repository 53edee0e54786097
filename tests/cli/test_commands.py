"""The command line as a person meets it: what it writes, what it says, how it ends.

The expected behaviour is the command-line contract of the project: exit status 0, 1 and 2, one
line on stderr, three files.
"""

import json
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

PROGRAM = Path(sys.executable).with_name("tableside")


def run(*arguments: object) -> subprocess.CompletedProcess[str]:
    command = [str(PROGRAM), *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    out = tmp_path_factory.mktemp("demo")
    done = run("demo", "--out", out)
    assert done.returncode == 0, done.stderr
    return out / "results", done.stdout


def test_the_demo_writes_the_three_files(demo: tuple[Path, str]) -> None:
    folder, _ = demo
    assert sorted(path.name for path in folder.iterdir()) == [
        "report.pdf",
        "structured-report.dcm",
        "study.json",
    ]
    assert (folder / "report.pdf").read_bytes().startswith(b"%PDF-")
    assert (folder / "structured-report.dcm").read_bytes()[128:132] == b"DICM"


def test_the_demo_shows_that_its_mitral_jet_cannot_be_right(demo: tuple[Path, str]) -> None:
    folder, printed = demo
    study = json.loads((folder / "study.json").read_text(encoding="utf-8"))
    found = [check for check in study["checks"] if check["id"] == "mitral-jet-against-pressure"]
    assert [check["verdict"] for check in found] == ["fails"]
    assert found[0]["about"][0] == "MR_Vmax"
    assert found[0]["remedy"]
    assert "not credible" in printed


def test_the_demo_says_that_a_veterinarian_decides(demo: tuple[Path, str]) -> None:
    assert "does not replace one" in demo[1]


def test_an_empty_folder_ends_with_1_and_one_line(tmp_path: Path) -> None:
    done = run("read", tmp_path, "--out", tmp_path / "out")
    assert done.returncode == 1
    assert len(done.stderr.strip().splitlines()) == 1
    assert done.stderr.startswith("tableside: ")
    assert not (tmp_path / "out").exists()


def test_a_wrong_worksheet_ends_with_1_and_names_the_key(tmp_path: Path) -> None:
    worksheet = tmp_path / "worksheet.toml"
    worksheet.write_text("[patient]\nwieght_kg = 9.1\n", encoding="utf-8")
    (tmp_path / "picture.png").write_bytes(_png())
    done = run("read", tmp_path, "--out", tmp_path / "out")
    assert done.returncode == 1
    assert "wieght_kg" in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


def test_a_missing_option_ends_with_2(tmp_path: Path) -> None:
    assert run("read", tmp_path).returncode == 2
    assert run("read", tmp_path, "--out", tmp_path / "o", "--template", "9").returncode == 2


def test_an_out_that_is_a_file_ends_with_2_and_writes_nothing(tmp_path: Path) -> None:
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "picture.png").write_bytes(_png())
    (tmp_path / "out").write_text("notes")
    done = run("read", tmp_path / "study", "--out", tmp_path / "out")
    assert done.returncode == 2 and "Traceback" not in done.stderr
    assert (tmp_path / "out").read_text() == "notes"


def test_a_folder_that_cannot_be_made_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "picture.png").write_bytes(_png())
    (tmp_path / "file").write_text("notes")
    done = run("read", tmp_path / "study", "--out", tmp_path / "file" / "out")
    assert done.returncode == 1
    assert len(done.stderr.strip().splitlines()) == 1 and "cannot be written" in done.stderr


def test_an_error_while_reading_is_one_line_and_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "picture.png").write_bytes(_png())
    done = run(
        "read", tmp_path / "study", "--out", tmp_path / "out", "--spreads", tmp_path / "none"
    )
    assert done.returncode == 1
    assert len(done.stderr.splitlines()) == 1


def test_the_version_is_printed() -> None:
    done = run("--version")
    assert done.returncode == 0
    assert done.stdout.startswith("tableside ")


def test_one_broken_file_does_not_stop_the_others(tmp_path: Path) -> None:
    study = tmp_path / "study"
    study.mkdir()
    (study / "picture.png").write_bytes(_png())
    (study / "broken.dcm").write_bytes(b"\0" * 128 + b"DICM" + b"\x02\x00")
    done = run("read", study, "--out", tmp_path / "out", "--no-pdf")
    assert done.returncode == 0, done.stderr
    read = json.loads((tmp_path / "out" / "study.json").read_text(encoding="utf-8"))
    assert [item["file"] for item in read["rejected"]] == ["broken.dcm"]
    assert [item["file"] for item in read["images"]] == ["picture.png"]
    assert not (tmp_path / "out" / "report.pdf").exists()


def test_reading_twice_gives_the_same_bytes(demo: tuple[Path, str], tmp_path: Path) -> None:
    folder, _ = demo
    again = run("read", folder.parent / "study", "--out", tmp_path)
    assert again.returncode == 0, again.stderr
    for path in sorted(folder.iterdir()):
        assert (tmp_path / path.name).read_bytes() == path.read_bytes(), path.name


def _png() -> bytes:
    done, encoded = cv2.imencode(".png", np.full((40, 60), 30, np.uint8))
    assert done
    return encoded.tobytes()
