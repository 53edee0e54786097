"""Tools that change nothing: edges, M-mode from a cine, rulers, exports."""

import base64
import io
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image as Picture
from tests.server.conftest import DeskClient, open_desk, wait_until_read


def ask(desk: DeskClient, tool: str, **given: Any) -> Any:
    answer = desk.http.post(f"/api/studies/{desk.study}/{tool}", json=given)
    assert answer.status_code == 200, answer.text
    return answer


def decoded(content: bytes) -> Any:
    return cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR)


def test_an_end_beside_an_edge_snaps_to_it(still_desk: DeskClient) -> None:
    beat = still_desk.number("LVIDd/automatic/leading edge")["beats"][1]
    (x, top), (_, bottom) = beat["points"]
    found = ask(
        still_desk,
        "snap",
        image=2,
        frame=0,
        points=[[x, top + 3], [x, bottom - 4]],
        quantity="LVIDd",
    ).json()
    assert [one["name"] for one in found["conventions"]] == ["leading edge", "inner edge"]
    leading, inner = found["conventions"]
    assert leading["value"] > inner["value"] > 0
    # the traced walls lie where the echo begins, within its rise of some rows
    assert leading["points"][1][1] == pytest.approx(bottom, abs=3)


def test_an_end_in_the_dark_says_so(still_desk: DeskClient) -> None:
    found = ask(still_desk, "snap", image=2, points=[[100, 100], [100, 200]]).json()
    assert found["ends"] == [None, None]
    assert "no edge within" in found["problem"]


def test_the_mmode_of_a_cine_is_calibrated_and_traced(still_desk: DeskClient) -> None:
    image = still_desk.get()["reading"]["images"][1]
    found = ask(still_desk, "mmode", image=1, line=[[320, 45], [320, 425]]).json()
    picture = cv2.imdecode(
        np.frombuffer(base64.b64decode(found["png"]), np.uint8), cv2.IMREAD_UNCHANGED
    )
    assert picture.shape == (found["rows"], found["columns"]) == (381, 127)
    # a vertical line of 380 rows: the scale along it is the picture's own
    assert found["region"]["cm_per_row"] == pytest.approx(image["regions"][0]["cm_per_row"])
    assert found["frames_per_s"] == pytest.approx(30, rel=0.01)
    assert "is not seen" in found["notes"][0]
    assert [one["quantity"] for one in found["diameters"]] == ["LVIDd", "LVIDs"]
    assert {one["name"] for one in found["traces"]} >= {"septum, left side"}


def test_an_oblique_line_is_as_long_as_it_is(still_desk: DeskClient) -> None:
    cm = still_desk.get()["reading"]["images"][1]["regions"][0]["cm_per_row"]
    found = ask(still_desk, "mmode", image=1, line=[[300, 60], [360, 420]]).json()
    length = np.hypot(60, 360) * cm  # square pixels
    assert found["region"]["cm_per_row"] * (found["rows"] - 1) == pytest.approx(
        length, rel=1e-4
    )


def test_the_rulers_of_a_tracing_are_found(still_desk: DeskClient) -> None:
    region = still_desk.get()["reading"]["images"][2]["regions"][1]
    found = ask(still_desk, "ruler", image=2).json()["rulers"]
    across = next(one for one in found if one["way"] == "across")
    marks_s = across["spacing_px"] * region["s_per_column"]
    assert marks_s * 10 == pytest.approx(round(marks_s * 10), abs=0.02)  # drawn at tenths
    assert len(across["ticks"]) > 8


def test_an_export_shows_nothing_but_the_calibrated_parts(still_desk: DeskClient) -> None:
    shown = decoded(ask(still_desk, "export", image=2).content)
    whole = decoded(
        still_desk.http.get(f"/api/studies/{still_desk.study}/images/2/frames/0").content
    )
    mask = np.zeros(shown.shape[:2], bool)
    for region in still_desk.get()["reading"]["images"][2]["regions"]:
        left, top, right, bottom = region["box"]
        mask[top : bottom + 1, left : right + 1] = True
    assert whole[:25].max() > 150  # the name stands in the first rows
    assert shown[~mask].max() == 0
    assert np.abs(shown[mask].astype(int) - whole[mask]).max() <= 2


def test_a_drawing_is_exported_when_wanted(still_desk: DeskClient) -> None:
    plain = decoded(ask(still_desk, "export", image=2).content)
    drawn = decoded(ask(still_desk, "export", image=2, drawing=True).content)
    assert (plain != drawn).any(axis=2).sum() > 1000


def test_a_clip_keeps_its_frames_and_its_pace(still_desk: DeskClient, tmp_path: Path) -> None:
    content = ask(still_desk, "export", image=1, first=0, last=19, format="gif").content
    with Picture.open(io.BytesIO(content)) as film:
        assert film.n_frames == 20
        assert film.info["duration"] == pytest.approx(33, abs=4)  # a GIF counts in 10 ms
    path = tmp_path / "a.mp4"
    path.write_bytes(ask(still_desk, "export", image=1, first=0, last=19, format="mp4").content)
    capture = cv2.VideoCapture(str(path))
    assert capture.get(cv2.CAP_PROP_FRAME_COUNT) == 20
    assert capture.get(cv2.CAP_PROP_FPS) == pytest.approx(30, rel=0.01)
    capture.release()


@pytest.mark.parametrize(
    "given",
    [
        {"image": 99},
        {"image": 1, "first": 20},
        {"image": 1, "first": 3, "last": 2},
        {"image": 1, "first": 0, "last": 5, "format": "png"},
        {"image": 1, "keep": []},
        {"image": 1, "keep": [[5000, 5000, 6000, 6000]]},
    ],
)
def test_an_export_that_cannot_be_is_said(
    still_desk: DeskClient, given: dict[str, Any]
) -> None:
    answer = still_desk.http.post(f"/api/studies/{still_desk.study}/export", json=given)
    assert answer.status_code in (404, 422)
    assert answer.json()["detail"]


def test_a_picture_without_regions_is_not_given_away_unmasked(tmp_path: Path) -> None:
    _, png = cv2.imencode(".png", np.full((80, 120, 3), 200, np.uint8))
    for http in open_desk(tmp_path / "data"):
        upload = [("files", ("screen.png", bytes(png)))]
        study = http.post("/api/studies", files=upload).json()["id"]
        wait_until_read(http, study)
        desk = DeskClient(http, study, tmp_path)
        refused = http.post(f"/api/studies/{study}/export", json={"image": 0})
        assert refused.status_code == 422
        assert "mark the part to keep" in refused.json()["detail"]
        kept = decoded(ask(desk, "export", image=0, keep=[[10, 20, 99, 69]]).content)
        assert kept[20:70, 10:100].min() == 200
        assert kept[:20].max() == kept[:, :10].max() == 0
