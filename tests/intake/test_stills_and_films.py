"""PNG, JPEG, MP4 and AVI: frames as other software wrote them."""

from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image as Picture

from intake.made_dicom import image, save, save_frames
from tableside.intake import open_study
from tableside.model import Mode


@pytest.fixture
def frames() -> list[np.ndarray]:
    """Flat colours that survive a lossy film: red falls, blue rises."""
    return [np.full((120, 160, 3), (240 - 20 * n, 30, 20 * n), np.uint8) for n in range(12)]


def film(path: Path, codec: str, frames: list[np.ndarray]) -> Path:
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*codec), 25.0, (160, 120))
    assert writer.isOpened()
    for frame in frames:
        writer.write(cv2.cvtColor(frame, cv2.COLOR_RGB2BGR))
    writer.release()
    return path


@pytest.mark.parametrize(("name", "codec"), [("a.avi", "MJPG"), ("a.mp4", "mp4v")])
def test_every_frame_of_a_film_comes_in_its_place(tmp_path, frames, name, codec) -> None:
    film(tmp_path / name, codec, frames)
    with open_study(tmp_path) as opened:
        (one,) = opened.study.images
        assert (one.frames, one.rows, one.columns) == (12, 120, 160)
        assert one.frame_times_s[-1] == pytest.approx(11 / 25)
        assert any("film" in note for note in one.notes)
        for index, pixels in zip((0, 5, 11), opened.frames(name, (0, 5, 11)), strict=True):
            assert np.abs(pixels[60, 80].astype(int) - frames[index][60, 80]).max() < 16


def test_a_film_is_known_by_its_content(tmp_path, frames) -> None:
    film(tmp_path / "a.mp4", "mp4v", frames).rename(tmp_path / "I0001")
    with open_study(tmp_path) as opened:
        assert opened.study.images[0].frames == 12


def test_the_film_inside_a_dicom_object_is_read(tmp_path, frames) -> None:
    """PS3.5 8.2.7: the whole stream in one fragment, parameters of the stream win."""
    stream = film(tmp_path / "film.mp4", "mp4v", frames).read_bytes()
    changes = {
        "SamplesPerPixel": 3,
        "PhotometricInterpretation": "YBR_PARTIAL_420",
        "PlanarConfiguration": 0,
        "NumberOfFrames": 12,
        "Rows": 120,
        "Columns": 160,
        "FrameTime": 40,
    }
    save_frames(
        [stream + b"\0" * (len(stream) % 2)],
        tmp_path / "study" / "a",
        "1.2.840.10008.1.2.4.102",
        changes,
    )
    with open_study(tmp_path / "study") as opened:
        (one,) = opened.study.images
        assert one.frames == len(one.frame_times_s) == 12
        assert np.abs(opened.frame("a", 11)[60, 80].astype(int) - frames[11][60, 80]).max() < 16


@pytest.mark.parametrize(
    ("mode", "shape"),
    [("RGB", (40, 60, 3)), ("L", (40, 60)), ("P", (40, 60, 3)), ("RGBA", (40, 60, 3))],
)
def test_png_of_any_kind_is_grey_or_rgb(tmp_path: Path, mode: str, shape) -> None:
    Picture.new(mode, (60, 40)).save(tmp_path / "a.png")
    with open_study(tmp_path) as opened:
        assert opened.study.images[0].mode is Mode.UNKNOWN
        assert opened.frame("a.png").shape == shape


def test_a_photo_is_not_turned_by_its_exif_note(tmp_path: Path) -> None:
    """Points are pixels as stored; turning would move them."""
    turned = Picture.Exif()
    turned[0x0112] = 6  # orientation: rotate by 90 degrees
    Picture.new("RGB", (60, 40)).save(tmp_path / "a.jpg", exif=turned)
    with open_study(tmp_path) as opened:
        assert opened.frame("a.jpg").shape == (40, 60, 3)


def test_a_cut_off_jpeg_is_rejected_beside_a_good_file(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    noise = rng.integers(0, 255, (200, 200, 3)).astype(np.uint8)
    Picture.fromarray(noise).save(tmp_path / "a.jpg")
    whole = (tmp_path / "a.jpg").read_bytes()
    (tmp_path / "a.jpg").write_bytes(whole[: len(whole) // 2])
    save(image(), tmp_path / "b")
    with open_study(tmp_path) as opened:
        assert [one.file for one in opened.study.images] == ["b"]
        assert "cut off" in opened.study.rejected[0].reason


def test_a_picture_of_absurd_size_is_called_too_large(tmp_path: Path) -> None:
    Picture.new("1", (20_000, 20_000)).save(tmp_path / "big.png")
    Picture.new("RGB", (160, 120)).save(tmp_path / "good.png")
    with open_study(tmp_path) as opened:
        (refused,) = opened.study.rejected
    assert "larger than any" in refused.reason
