"""Bad input never crashes, never stops the other files, and says what to do."""

import io
import re
import struct
import zipfile
import zlib
from contextlib import suppress
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
from PIL import Image as Picture
from pydicom.dataset import Dataset
from pydicom.sequence import Sequence

from intake.made_dicom import image, region, save, save_frames
from tableside.errors import InputError, NothingReadable, UnreadableFile
from tableside.intake import limits, open_study
from tableside.model import Study

RLE = "1.2.840.10008.1.2.5"


def read(path: Path) -> Study:
    with open_study(path) as opened:
        for one in opened.study.images:
            for _ in opened.frames(one.file):
                pass
        return opened.study


def reason_beside_a_good_file(folder: Path, name: str = "bad") -> str:
    """Add one good file; return why the bad one was rejected."""
    save(image(), folder / "good")
    study = read(folder)
    assert [one.file for one in study.images] == ["good"]
    return next(one.reason for one in study.rejected if one.file == name)


def test_an_empty_folder_says_what_to_give(tmp_path: Path) -> None:
    with pytest.raises(NothingReadable, match=r"holds no images.*Give the folder"):
        open_study(tmp_path)


def test_a_path_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(NothingReadable, match="does not exist"):
        open_study(tmp_path / "nowhere")


def test_a_text_file_alone_is_nothing_readable(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("Bramble was good today")
    with pytest.raises(NothingReadable, match=r"notes\.txt: not an image"):
        open_study(tmp_path)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"Bramble was good today", "not an image"),
        (b"", "empty"),
        (b"%PDF-1.7", "document"),
        (b"GIF89a", "PNG or JPEG"),
        (b"PK\x03\x04", "zip inside"),
        (b"\x89PNG\r\n\x1a\n" + bytes(40), "broken"),
        (b"\xff\xd8\xff\xe0" + bytes(40), "broken"),
        (b"\0\0\0\x18ftypmp42" + bytes(40), "film"),
        (b"RIFF\0\0\0\0AVI " + bytes(40), "film"),
        (bytes(128) + b"DICM", "broken|no picture|not an ultrasound"),
        (bytes(128) + b"DICM" + b"\xff" * 300, "broken|not an ultrasound"),
    ],
)
def test_files_that_are_no_images_are_named(tmp_path: Path, content: bytes, words: str) -> None:
    (tmp_path / "bad").write_bytes(content)
    assert re.search(words, reason_beside_a_good_file(tmp_path))


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9, 0.99])
def test_a_dicom_file_cut_off_anywhere_is_to_be_copied_again(
    tmp_path: Path, share: float
) -> None:
    whole = save(image(8), tmp_path / "bad").read_bytes()
    (tmp_path / "bad").write_bytes(whole[: int(len(whole) * share)])
    assert "copy it" in reason_beside_a_good_file(tmp_path)


def test_every_cut_of_a_small_header_is_survived(tmp_path: Path) -> None:
    whole = save(image(), tmp_path / "whole").read_bytes()
    for length in range(132, len(whole) - 1, 37):
        (tmp_path / "cut").write_bytes(whole[:length])
        with pytest.raises(NothingReadable):
            open_study(tmp_path / "cut")


def test_a_cut_off_cine_of_fragments_is_rejected(tmp_path: Path) -> None:
    streams = [imagecodecs.jpegls_encode(np.zeros((48, 64), np.uint8))] * 4
    path = save_frames(streams, tmp_path / "bad", "1.2.840.10008.1.2.4.80", {})
    path.write_bytes(path.read_bytes()[:-60])
    assert "cut off" in reason_beside_a_good_file(tmp_path)


def test_a_header_that_claims_20000_by_20000_pixels_without_data(tmp_path: Path) -> None:
    save(image(Rows=20_000, Columns=20_000), tmp_path / "bad")
    reason = reason_beside_a_good_file(tmp_path)
    assert "20000 x 20000" in reason and "larger than any" in reason


def test_more_frames_than_any_cine_has(tmp_path: Path) -> None:
    save(image(NumberOfFrames=2_000_000_000), tmp_path / "bad")
    assert "frames" in reason_beside_a_good_file(tmp_path)


def test_a_pixel_length_that_lies(tmp_path: Path) -> None:
    path = save(image(Rows=2000, Columns=2000), tmp_path / "bad")
    whole = path.read_bytes()
    start = whole.index(b"\xe0\x7f\x10\x00OB\0\0") + 8
    path.write_bytes(whole[:start] + struct.pack("<I", 0xFFFFFFF0) + whole[start + 4 :])
    assert "cut off" in reason_beside_a_good_file(tmp_path)


def test_an_object_without_pixels(tmp_path: Path) -> None:
    path = save(image(), tmp_path / "bad")
    whole = path.read_bytes()
    path.write_bytes(whole[: whole.index(b"\xe0\x7f\x10\x00OB")])
    assert "no picture" in reason_beside_a_good_file(tmp_path)


def deflated(whole: Dataset, path: Path, packed: bytes) -> Path:
    """Write an object whose body is replaced by a deflated one."""
    save(whole, path, "1.2.840.10008.1.2.1.99")
    head = path.read_bytes()
    meta_end = 132 + 12 + struct.unpack("<I", head[140:144])[0]
    path.write_bytes(head[:meta_end] + packed)
    return path


def test_a_deflated_object_that_inflates_a_thousandfold_is_stopped(tmp_path: Path) -> None:
    engine = zlib.compressobj(9, zlib.DEFLATED, -15)
    block = bytes(2**20)
    packed = b"".join(engine.compress(block) for _ in range(600)) + engine.flush()
    assert len(packed) < 700_000  # 600 MB in 0.6 MB
    deflated(image(), tmp_path / "bad", packed)
    assert "inflates" in reason_beside_a_good_file(tmp_path)


def test_a_deflated_bomb_without_a_preamble_is_stopped_too(tmp_path: Path) -> None:
    engine = zlib.compressobj(9, zlib.DEFLATED, -15)
    block = bytes(2**20)
    packed = b"".join(engine.compress(block) for _ in range(300)) + engine.flush()
    path = deflated(image(), tmp_path / "bad", packed)
    path.write_bytes(path.read_bytes()[132:])
    assert "inflates" in reason_beside_a_good_file(tmp_path)


def test_a_cut_off_deflated_object(tmp_path: Path) -> None:
    packed = zlib.compressobj(wbits=-15)
    body = packed.compress(bytes(10_000)) + packed.flush()
    deflated(image(), tmp_path / "bad", body[:-4])
    assert "cut off" in reason_beside_a_good_file(tmp_path)


def rle_segment(size: int) -> bytes:
    """Return run lengths that unpack to so many zero bytes (PS3.5 G.3)."""
    return b"\x81\x00" * (size // 128)


def test_an_rle_frame_of_hundreds_of_megabytes_is_refused_by_its_size(tmp_path: Path) -> None:
    segment = rle_segment(300 * 2**20)
    assert len(segment) < 5 * 2**20
    stream = struct.pack("<16I", 1, 64, *[0] * 14) + segment
    changes = {"Rows": 16_384, "Columns": 19_200}
    save_frames([stream], tmp_path / "bad", RLE, changes)
    assert "larger than any" in reason_beside_a_good_file(tmp_path)


def test_an_rle_frame_that_unpacks_past_its_header_is_stopped(tmp_path: Path) -> None:
    stream = struct.pack("<16I", 1, 64, *[0] * 14) + rle_segment(300 * 2**20)
    save_frames([stream], tmp_path / "bad", RLE, {})
    assert "broken" in reason_beside_a_good_file(tmp_path)


@pytest.mark.parametrize(
    ("syntax", "encoder"),
    [
        ("1.2.840.10008.1.2.4.50", "jpeg8_encode"),
        ("1.2.840.10008.1.2.4.80", "jpegls_encode"),
        ("1.2.840.10008.1.2.4.90", "jpeg2k_encode"),
        ("1.2.840.10008.1.2.4.110", "jpegxl_encode"),
    ],
)
def test_a_stream_larger_than_its_header_is_not_decoded(
    tmp_path: Path, syntax: str, encoder: str
) -> None:
    stream = getattr(imagecodecs, encoder)(np.zeros((4000, 4000), np.uint8))
    save_frames([stream], tmp_path / "bad", syntax, {})
    assert reason_beside_a_good_file(tmp_path)


def test_broken_pictures_in_a_sound_file(tmp_path: Path) -> None:
    save_frames([b"\xff\xd8" + bytes(50)], tmp_path / "bad", "1.2.840.10008.1.2.4.50", {})
    assert "broken" in reason_beside_a_good_file(tmp_path)


def test_a_frame_that_breaks_later_is_an_error_of_that_file(tmp_path: Path) -> None:
    good = imagecodecs.jpegls_encode(np.zeros((48, 64), np.uint8))
    save_frames([good, b"\xff\xd8" + bytes(50)], tmp_path / "a", "1.2.840.10008.1.2.4.80", {})
    with open_study(tmp_path) as opened:
        assert opened.frame("a", 0).shape == (48, 64)
        with pytest.raises(UnreadableFile, match="broken"):
            opened.frame("a", 1)


def test_sequences_nested_three_thousand_deep(tmp_path: Path) -> None:
    path = save(image(), tmp_path / "bad")
    whole = path.read_bytes()
    start = whole.index(b"\x18\x00\x11\x60SQ")  # in place of the regions
    deep = b""
    for _ in range(3000):
        deep += b"\x18\x00\x11\x60SQ\0\0\xff\xff\xff\xff\xfe\xff\x00\xe0\xff\xff\xff\xff"
    path.write_bytes(whole[:start] + deep)
    reason = reason_beside_a_good_file(tmp_path)
    assert "nested" in reason or "broken" in reason


def test_a_broken_weight_does_not_cost_the_picture(tmp_path: Path) -> None:
    path = save(image(PatientWeight="18.4"), tmp_path / "a")
    path.write_bytes(path.read_bytes().replace(b"18.4", b"1\xff.x"))
    (tmp_path / "b").write_bytes(
        path.read_bytes().replace(b"\x10\x00\x30\x10DS", b"\x10\x00\x30\x10ZZ")
    )
    study = read(tmp_path)
    assert [one.file for one in study.images] == ["a", "b"]
    assert study.patient.weight_kg is None


@pytest.mark.parametrize("seed", range(150))
def test_changed_bytes_never_crash(tmp_path: Path, seed: int) -> None:
    rng = np.random.default_rng(seed)
    stream = imagecodecs.jpeg8_encode(np.zeros((48, 64), np.uint8))
    whole = bytearray(
        save_frames([stream] * 3, tmp_path / "a", "1.2.840.10008.1.2.4.50", {}).read_bytes()
    )
    for place in rng.integers(132, len(whole), 1 + seed % 20):
        whole[place] = rng.integers(256)
    (tmp_path / "a").write_bytes(whole)
    with suppress(InputError):  # anything else is a crash
        assert read(tmp_path).images


def test_a_uid_that_climbs_is_never_a_path(tmp_path: Path) -> None:
    folder = tmp_path / "study"
    path = save(image(), folder / "a")
    whole = path.read_bytes().replace(b"1.2.3.4.5\0", b"../../../x")
    path.write_bytes(whole)
    (one,) = read(folder).images
    assert one.identity is None
    assert any("identifiers" in note for note in one.notes)
    assert [found.name for found in tmp_path.rglob("*")] == ["study", "a"]


def test_a_region_far_outside_makes_the_image_doubtful_and_no_more(tmp_path: Path) -> None:
    outside = region(RegionLocationMaxX1=4_000_000_000, RegionLocationMaxY1=4_000_000_000)
    save(image(SequenceOfUltrasoundRegions=Sequence([outside])), tmp_path / "a")
    (one,) = read(tmp_path).images
    assert one.doubt is not None or not one.regions


def zipped(path: Path, members: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as bundle:
        for name, content in members.items():
            bundle.writestr(name, content)
    return path


def dicom_bytes(folder: Path) -> bytes:
    return save(image(), folder / "made").read_bytes()


@pytest.mark.parametrize("name", ["../climbed", "/climbed", "a/../../climbed", "..\\climbed"])
def test_a_zip_that_climbs_out_writes_nothing_outside(tmp_path: Path, name: str) -> None:
    content = dicom_bytes(tmp_path)
    path = zipped(tmp_path / "study.zip", {"good": content, name: content})
    before = set(Path(tmp_path.anchor).glob("climbed*")) | set(tmp_path.rglob("*"))
    study = read(path)
    assert [one.file for one in study.images] == ["good"]
    assert "outside the zip" in study.rejected[0].reason
    assert set(Path(tmp_path.anchor).glob("climbed*")) | set(tmp_path.rglob("*")) == before


def test_a_zip_that_inflates_a_thousandfold_is_stopped(tmp_path: Path) -> None:
    members = {"good": dicom_bytes(tmp_path), "bomb": bytes(100 * 2**20)}
    study = read(zipped(tmp_path / "study.zip", members))
    assert [one.file for one in study.images] == ["good"]
    assert "unpacks to more than" in study.rejected[0].reason


def test_a_zip_stops_at_its_total(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tableside.intake.archive.MAX_UNPACKED_BYTES", 10_000)
    content = dicom_bytes(tmp_path)
    study = read(zipped(tmp_path / "study.zip", {str(n): content for n in range(8)}))
    assert 1 <= len(study.images) < 8
    assert len(study.images) + len(study.rejected) == 8


def test_a_broken_zip(tmp_path: Path) -> None:
    whole = zipped(tmp_path / "study.zip", {"a": bytes(5000)}).read_bytes()
    (tmp_path / "study.zip").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(NothingReadable, match="broken zip"):
        open_study(tmp_path / "study.zip")


def test_a_png_of_a_size_that_no_machine_makes(tmp_path: Path) -> None:
    header = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    chunk = b"IHDR" + header
    png = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk
    png += struct.pack(">I", zlib.crc32(chunk)) + struct.pack(">I", 0) + b"IEND\xaeB`\x82"
    (tmp_path / "bad").write_bytes(png)
    assert reason_beside_a_good_file(tmp_path)


def test_more_files_than_the_limit_are_cut_with_a_word(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tableside.intake.gather.MAX_FILES", 2)
    for name in "abc":
        save(image(), tmp_path / name)
    study = read(tmp_path)
    assert len(study.images) == 2
    assert "no more is read" in study.rejected[0].reason


def test_scratch_files_are_removed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(scratch))
    path = zipped(tmp_path / "study.zip", {"good": dicom_bytes(tmp_path)})
    with open_study(path) as opened:
        assert opened.path("good").is_relative_to(scratch)
    with pytest.raises(NothingReadable):
        open_study(zipped(tmp_path / "empty.zip", {"a.txt": b"x"}))
    assert list(scratch.iterdir()) == []


def test_limits_leave_room_for_the_largest_image_of_the_trade() -> None:
    assert limits.MAX_FRAME_BYTES >= 8 * 1920 * 1080 * 3


def test_a_bomb_of_a_still_is_no_crash(tmp_path: Path) -> None:
    file = io.BytesIO()
    Picture.new("1", (12_000, 12_000)).save(file, "PNG")
    (tmp_path / "bad").write_bytes(file.getvalue())
    assert "larger than any" in reason_beside_a_good_file(tmp_path)
