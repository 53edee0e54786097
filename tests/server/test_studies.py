"""Deliveries, the list, one study, its images and its news."""

import io
import json
import shutil
import struct
import zipfile
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from fastapi.testclient import TestClient
from tests.server.conftest import DeskClient, open_desk, wait_until_read

from tableside.intake import open_study
from tableside.model import FLOWS, MMODE_LEVELS, VIEWS, quantities
from tableside.reading import read
from tableside.report.study_json import study_json
from tableside.server.shapes.study import ImageDetail, StudyState
from tableside.server.upload import clean_name

Files = list[tuple[str, tuple[str, bytes]]]


def zipped(files: dict[str, bytes]) -> bytes:
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w") as bundle:
        for name, content in files.items():
            bundle.writestr(name, content)
    return sink.getvalue()


def test_the_study_is_listed_and_found_by_any_word(still_desk: DeskClient) -> None:
    def found(search: str) -> list[Any]:
        answer = still_desk.http.get("/api/studies", params={"search": search})
        return [one["id"] for one in answer.json()]

    assert found("") == found("thistle CAVALIER") == found("2026-05-12") == [still_desk.study]
    assert found("thistle nobody") == []


def test_without_edits_the_desk_reads_as_the_command_line_does(
    still_desk: DeskClient, demo_folder: Path
) -> None:
    with open_study(demo_folder) as opened:
        alone = json.loads(study_json(read(opened)))
    shown = still_desk.get()["reading"]
    for name in ("indices", "checks", "findings", "protocol", "patient", "visit", "notes"):
        assert shown[name] == alone[name], name
    assert [one["value"] for one in shown["measurements"]] == [
        one["value"] for one in alone["measurements"]
    ]


def test_what_travels_is_what_the_contract_says(still_desk: DeskClient) -> None:
    StudyState.model_validate(still_desk.get())  # unknown and missing keys are refused
    ImageDetail.model_validate(still_desk.get("/images/0"))


def test_the_same_files_as_a_zip_are_the_same_study(
    still_desk: DeskClient, demo_folder: Path
) -> None:
    content = zipped({path.name: path.read_bytes() for path in demo_folder.iterdir()})
    answer = still_desk.http.post(
        "/api/studies", files=[("files", ("study.zip", content, "application/zip"))]
    )
    assert answer.status_code == 202
    assert answer.json() == {"id": still_desk.study, "is_new": False, "rejected": []}


def test_a_zip_that_climbs_out_is_refused_and_the_rest_is_read(
    tmp_path: Path, demo_folder: Path
) -> None:
    image = (demo_folder / "I0003.dcm").read_bytes()
    content = zipped({"../../evil.dcm": image, "/etc/evil": b"x", "I0003.dcm": image})
    for http in open_desk(tmp_path / "data"):
        answer = http.post("/api/studies", files=[("files", ("a.zip", content))])
        assert answer.status_code == 202
        state = wait_until_read(http, answer.json()["id"])
        assert [one["file"] for one in state["rejected"]] == ["../../evil.dcm", "/etc/evil"]
        assert [one["file"] for one in state["reading"]["images"]] == ["I0003.dcm"]
    assert not list(tmp_path.rglob("evil*"))


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("a/b/c.dcm", "a/b/c.dcm"),
        ("a\\b.dcm", "a/b.dcm"),
        ("./a//b", "a/b"),
        ("../x", None),
        ("a/../../x", None),
        ("", None),
        ("x" * 501, None),
        ("a\x00b", None),
        ("a\nb", None),
    ],
)
def test_a_name_never_points_outside(name: str, kept: str | None) -> None:
    assert clean_name(name) == kept


def test_files_that_hold_no_image_fail_with_a_sentence(tmp_path: Path) -> None:
    for http in open_desk(tmp_path / "data"):
        answer = http.post("/api/studies", files=[("files", ("notes.txt", b"hello"))])
        state = wait_until_read(http, answer.json()["id"])
        assert state["status"] == "failed"
        assert "Give the folder with the DICOM files" in state["failure"]


@pytest.mark.parametrize(
    "sent",
    [
        {"files": []},
        {"data": {"files": "text"}},
        {"content": b"rubbish", "headers": {"content-type": "multipart/form-data"}},
        {
            "content": b"--x\r\nbroken",
            "headers": {"content-type": "multipart/form-data; boundary=x"},
        },
        {"json": {"files": 1}},
    ],
)
def test_a_bad_upload_gets_a_sentence(still_desk: DeskClient, sent: dict[str, Any]) -> None:
    answer = still_desk.http.post("/api/studies", **sent)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["detail"]


def test_frames_are_the_stored_bytes_and_kept_for_ever(
    still_desk: DeskClient, demo_folder: Path
) -> None:
    answer = still_desk.http.get(f"/api/studies/{still_desk.study}/images/0/frames/7")
    assert answer.headers["content-type"] == "image/jpeg"
    assert "immutable" in answer.headers["cache-control"]
    assert answer.content in (demo_folder / "I0001.dcm").read_bytes()


def test_a_browser_decodes_what_we_decode(still_desk: DeskClient, demo_folder: Path) -> None:
    answer = still_desk.http.get(f"/api/studies/{still_desk.study}/images/2/frames/0")
    shown = cv2.imdecode(np.frombuffer(answer.content, np.uint8), cv2.IMREAD_COLOR)
    with open_study(demo_folder) as opened:
        ours = opened.frame("I0003.dcm", 0)
    assert np.abs(shown[..., ::-1].astype(int) - ours).max() <= 2


def test_a_pack_holds_the_frames_one_after_the_other(still_desk: DeskClient) -> None:
    base = f"/api/studies/{still_desk.study}/images/1/frames"
    packed = still_desk.http.get(base, params={"from": 5, "count": 3}).content
    single = [still_desk.http.get(f"{base}/{number}").content for number in (5, 6, 7)]
    assert packed == b"".join(struct.pack(">I", len(one)) + one for one in single)


@pytest.mark.parametrize("path", ["/images/99", "/images/0/frames/20", "/images/99/thumbnail"])
def test_what_is_not_there_is_said(still_desk: DeskClient, path: str) -> None:
    answer = still_desk.http.get(f"/api/studies/{still_desk.study}{path}")
    assert answer.status_code in (404, 422)
    assert "0 to" in answer.json()["detail"]


def test_a_thumbnail_is_small(still_desk: DeskClient) -> None:
    answer = still_desk.http.get(f"/api/studies/{still_desk.study}/images/0/thumbnail")
    picture = cv2.imdecode(np.frombuffer(answer.content, np.uint8), cv2.IMREAD_COLOR)
    assert max(picture.shape[:2]) == 240


def test_a_restarted_desk_still_has_the_study(kept_demo: tuple[Path, str]) -> None:
    data, study = kept_demo
    for http in open_desk(data):
        assert [one["id"] for one in http.get("/api/studies").json()] == [study]
        assert wait_until_read(http, study)["status"] == "ready"


def test_a_damaged_original_is_said(kept_demo: tuple[Path, str], tmp_path: Path) -> None:
    kept, study = kept_demo
    shutil.copytree(kept, tmp_path / "data")
    original = tmp_path / "data" / "studies" / study / "originals" / "00002"
    original.write_bytes(original.read_bytes()[:-1])
    for http in open_desk(tmp_path / "data"):
        state = wait_until_read(http, study)
        assert "has changed on the disk" in state["failure"]


def test_the_list_of_labels_and_quantities_is_whole(still_desk: DeskClient) -> None:
    shown = still_desk.http.get("/api/catalogue").json()
    assert [one["id"] for one in shown["quantities"]] == list(quantities())
    for name, labels in (("views", VIEWS), ("mmode_levels", MMODE_LEVELS), ("flows", FLOWS)):
        assert [one["label"] for one in shown[name]] == list(labels)
        assert len({one["key"] for one in shown[name]}) == len(labels)


def test_films_are_transcoded_once(tmp_path: Path) -> None:
    film = tmp_path / "a.avi"
    writer = cv2.VideoWriter(str(film), cv2.VideoWriter.fourcc(*"MJPG"), 25.0, (64, 48))
    for level in range(12):
        writer.write(np.full((48, 64, 3), level * 20, np.uint8))
    writer.release()
    for http in open_desk(tmp_path / "data"):
        answer = http.post("/api/studies", files=[("files", ("a.avi", film.read_bytes()))])
        study = answer.json()["id"]
        wait_until_read(http, study)
        assert http.get(f"/api/studies/{study}/images/0").json()["coding"] == "transcoded"
        frame = http.get(f"/api/studies/{study}/images/0/frames/6").content
        shown = cv2.imdecode(np.frombuffer(frame, np.uint8), cv2.IMREAD_GRAYSCALE)
        assert shown.mean() == pytest.approx(120, abs=4)


def test_real_files_of_three_makers_are_shown(shared_data: Path, tmp_path: Path) -> None:
    names = ("I_000001", "I_000020", "I_000034")
    files = [
        ("files", (path.name, path.read_bytes()))
        for path in sorted((shared_data / "human-echo").iterdir())
        if path.name.startswith(names)
    ]
    for http in open_desk(tmp_path / "data"):
        study = http.post("/api/studies", files=files).json()["id"]
        state = wait_until_read(http, study)
        StudyState.model_validate(state)
        for image in state["reading"]["images"]:
            path = f"/api/studies/{study}/images/{image['n']}/frames/0"
            frame = http.get(path)
            picture = cv2.imdecode(np.frombuffer(frame.content, np.uint8), cv2.IMREAD_COLOR)
            assert picture.shape[:2] == (image["rows"], image["columns"])


def read_events(http: TestClient, path: str, headers: dict[str, str]) -> str:
    """Read until the first sign of life: everything that was missed stands before it."""
    found = ""
    with http.stream("GET", path, headers=headers) as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        for text in answer.iter_text():
            found += text
            if "still here" in found:
                break
    return found
