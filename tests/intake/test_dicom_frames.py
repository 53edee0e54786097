"""Frames against other decoders: pydicom with its own handlers, Pillow, and by hand."""

import io
import tracemalloc
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
from PIL import Image as Picture
from pydicom import dcmread
from pydicom.data import get_testdata_file
from pydicom.pixels import apply_color_lut, pixel_array

from intake.made_dicom import image, save, save_frames
from tableside.intake import open_study
from tableside.intake.header import read_header
from tableside.intake.layout import frame_layout
from tableside.intake.pixel_format import pixel_format
from tableside.intake.pixels import decode_frame, rgb_from_ybr

# pydicom's own test files (MIT), decoded by pydicom's own handlers.
SAME_AS_PYDICOM = [
    "SC_rgb.dcm",  # native
    "SC_rgb_2frame.dcm",
    "SC_rgb_expb_2frame.dcm",  # big endian
    "SC_rgb_small_odd_big_endian.dcm",  # big endian in words, odd size
    "SC_rgb_jpeg_dcmd.dcm",  # implicit VR
    "color-pl.dcm",  # planar
    "SC_ybr_full_uncompressed.dcm",
    "SC_ybr_full_422_uncompressed.dcm",
    "SC_rgb_rle.dcm",
    "SC_rgb_rle_2frame.dcm",
    "SC_rgb_dcmtk_+eb+cy+np.dcm",  # JPEG baseline 4:2:2
    "SC_rgb_dcmtk_+eb+cy+s4.dcm",  # JPEG baseline 4:1:1
    "SC_rgb_dcmtk_+eb+cr.dcm",  # JPEG baseline, RGB
    "SC_jpeg_no_color_transform.dcm",  # RGB in a JPEG without APP14
    "SC_jpeg_no_color_transform_2.dcm",
    "SC_rgb_jpeg_app14_dcmd.dcm",
    "SC_rgb_jls_lossy_line.dcm",
    "SC_rgb_jls_lossy_sample.dcm",
    "JPEGLSNearLossless_08.dcm",
    "SC_rgb_gdcm_KY.dcm",  # JPEG 2000, RGB
    "US1_J2KR.dcm",  # JPEG 2000 reversible
    "US1_J2KI.dcm",  # JPEG 2000 irreversible
    "examples_ybr_color.dcm",
    "examples_jpeg2k.dcm",
    "examples_rgb_color.dcm",
    "ExplVR_BigEnd.dcm",
]


def decoded(path: Path, scratch: Path, index: int = 0) -> np.ndarray:
    header = read_header(path, scratch)
    form = pixel_format(header)
    return decode_frame(frame_layout(header, form).read(index), form)


def pydicom_file(name: str) -> Path:
    found = get_testdata_file(name)
    assert isinstance(found, str)
    return Path(found)


@pytest.mark.filterwarnings("ignore::UserWarning")  # pydicom remarks on its own odd files
@pytest.mark.parametrize("name", SAME_AS_PYDICOM)
def test_the_last_frame_is_the_one_that_pydicom_decodes(name: str, tmp_path: Path) -> None:
    path = pydicom_file(name)
    last = int(dcmread(path, stop_before_pixels=True).get("NumberOfFrames", 1)) - 1
    np.testing.assert_array_equal(
        decoded(path, tmp_path, last), pixel_array(path, index=last), strict=True
    )


@pytest.mark.filterwarnings("ignore::UserWarning")
@pytest.mark.parametrize(
    "name",
    [
        "examples_palette.dcm",
        "OBXXXX1A.dcm",
        "OBXXXX1A_expb.dcm",
        "OBXXXX1A_rle_2frame.dcm",
        "gdcm-US-ALOKA-16.dcm",  # a colour table in segments
    ],
)
def test_palette_colours_are_those_of_pydicom(name: str, tmp_path: Path) -> None:
    path = pydicom_file(name)
    whole = dcmread(path)
    colours = apply_color_lut(pixel_array(path, index=0), whole)
    if colours.dtype == np.uint16:
        colours = colours >> 8 if colours.max() > 255 else colours
    np.testing.assert_array_equal(decoded(path, tmp_path), colours)


def test_lossless_jpeg_is_the_picture_that_another_decoder_gives(tmp_path: Path) -> None:
    path = pydicom_file("JPGLosslessP14SV1_1s_1f_8b.dcm")
    header = read_header(path, tmp_path)
    form = pixel_format(header)
    stream = frame_layout(header, form).read(0)
    other = imagecodecs.jpegsof3_decode(stream)  # a second, independent decoder (Apache-2.0)
    np.testing.assert_array_equal(decode_frame(stream, form), other)


@pytest.mark.filterwarnings("ignore::UserWarning")
def test_a_lossless_rgb_jpeg_keeps_the_colours_of_its_uncompressed_twin(tmp_path: Path) -> None:
    one = decoded(pydicom_file("SC_rgb_jpeg_gdcm.dcm"), tmp_path)
    np.testing.assert_array_equal(one, pixel_array(pydicom_file("SC_rgb.dcm")))


def test_deflated_objects_are_inflated(tmp_path: Path) -> None:
    path = pydicom_file("image_dfl.dcm")
    np.testing.assert_array_equal(decoded(path, tmp_path), dcmread(path).pixel_array)


def test_monochrome1_is_shown_inverted(tmp_path: Path) -> None:
    path = save(image(PhotometricInterpretation="MONOCHROME1"), tmp_path / "a")
    assert decoded(path, tmp_path).min() == 255  # the stored 0 is white: PS3.3 C.7.6.3.1.2


def test_sixteen_bits_are_windowed_to_what_is_shown(tmp_path: Path) -> None:
    ramp = np.linspace(0, 4095, 48 * 64).astype("<u2").reshape(48, 64)
    path = save(
        image(
            BitsAllocated=16,
            BitsStored=12,
            HighBit=11,
            WindowCenter=2048,
            WindowWidth=2048,
            PixelData=ramp.tobytes(),
        ),
        tmp_path / "a",
    )
    low, high = 2048 - 0.5 - 2047 / 2, 2048 - 0.5 + 2047 / 2  # PS3.3 C.11.2.1.2.1
    shares = np.clip((ramp - low) / (high - low), 0, 1)
    assert np.abs(decoded(path, tmp_path) - shares * 255).max() <= 0.5


@pytest.mark.parametrize(
    ("syntax", "encode", "exact"),
    [
        ("1.2.840.10008.1.2.4.90", lambda a: imagecodecs.jpeg2k_encode(a, level=0), True),
        ("1.2.840.10008.1.2.4.80", imagecodecs.jpegls_encode, True),
        (
            "1.2.840.10008.1.2.4.110",
            lambda a: imagecodecs.jpegxl_encode(a, lossless=True),
            True,
        ),
        ("1.2.840.10008.1.2.4.57", imagecodecs.ljpeg_encode, True),
        ("1.2.840.10008.1.2.4.50", lambda a: imagecodecs.jpeg8_encode(a, level=95), False),
        ("1.2.840.10008.1.2.4.201", imagecodecs.htj2k_encode, True),
    ],
)
def test_every_codec_gives_each_frame_of_a_cine(
    tmp_path: Path, syntax: str, encode, exact: bool
) -> None:
    grey = np.add.outer(np.arange(48), np.arange(64)).astype(np.uint8)
    frames = [grey + shade for shade in (0, 40, 90)]
    path = save_frames([encode(frame) for frame in frames], tmp_path / "a", syntax, {})
    for index, frame in enumerate(frames):
        error = np.abs(decoded(path, tmp_path, index).astype(int) - frame).max()
        assert error == 0 if exact else error < 6


def test_a_frame_in_several_fragments_is_joined(tmp_path: Path) -> None:
    frames = [np.full((48, 64), shade, np.uint8) for shade in (10, 200)]
    streams = [imagecodecs.jpegls_encode(frame) for frame in frames]
    path = save_frames(streams, tmp_path / "a", "1.2.840.10008.1.2.4.80", {}, fragments=2)
    assert [decoded(path, tmp_path, index).max() for index in (0, 1)] == [10, 200]


@pytest.mark.parametrize("photometric", ["RGB", "YBR_FULL"])
def test_a_jpeg_that_does_not_say_its_colours_follows_the_header(
    tmp_path: Path, photometric: str
) -> None:
    """Libraries take such a stream for YCbCr; the header is the only one who knows."""
    red = np.zeros((48, 64, 3), np.uint8)
    red[...] = (200, 30, 40)
    stored = (
        red if photometric == "RGB" else np.asarray(Picture.fromarray(red).convert("YCbCr"))
    )
    file = io.BytesIO()
    # "RGB" with keep_rgb writes APP14; both markers are cut out below
    Picture.fromarray(stored, "RGB").save(file, "JPEG", quality=98, keep_rgb=True)
    stream = _without_markers(file.getvalue())
    changes = {"SamplesPerPixel": 3, "PhotometricInterpretation": photometric}
    changes["PlanarConfiguration"] = 0
    path = save_frames([stream], tmp_path / "a", "1.2.840.10008.1.2.4.50", changes)
    assert np.abs(decoded(path, tmp_path).astype(int) - red).max() <= 4


def _without_markers(stream: bytes) -> bytes:
    """Cut APP0 and APP14 out and number the components 1, 2, 3, as many machines do."""
    kept, position = [stream[:2]], 2
    while stream[position + 1] != 0xDA:
        length = int.from_bytes(stream[position + 2 : position + 4], "big")
        segment = bytearray(stream[position : position + 2 + length])
        if segment[1] == 0xC0:
            segment[10], segment[13], segment[16] = 1, 2, 3
        if segment[1] not in (0xE0, 0xEE):
            kept.append(bytes(segment))
        position += 2 + length
    rest = bytearray(stream[position:])
    rest[5], rest[7], rest[9] = 1, 2, 3
    return b"".join([*kept, bytes(rest)])


def test_ycbcr_of_grey_and_of_the_primaries() -> None:
    """ITU-R BT.601, full range: grey has chroma 128; red is 76, 85, 255 (rounded)."""
    ybr = np.array([[[90, 128, 128], [76, 85, 255]]], np.uint8)
    np.testing.assert_allclose(rgb_from_ybr(ybr), [[[90, 90, 90], [254, 0, 0]]], atol=1)


def test_studio_range_spreads_16_to_235(tmp_path: Path) -> None:
    ybr = np.array([[[16, 128, 128], [235, 128, 128]]], np.uint8)
    np.testing.assert_array_equal(
        rgb_from_ybr(ybr, is_partial=True), [[[0, 0, 0], [255, 255, 255]]]
    )


def test_frames_come_one_by_one_and_only_those_asked_for(tmp_path: Path) -> None:
    save(image(20), tmp_path / "study" / "clip")
    with open_study(tmp_path / "study") as opened:
        asked = [frame[0, 0] for frame in opened.frames("clip", (3, 17))]
        everything = list(opened.frames("clip"))
        last = opened.frame("clip", 19)
    assert asked == [3, 17]
    assert len(everything) == 20
    assert last.shape == (48, 64) and last.dtype == np.uint8 and last.max() == 19


def test_a_cine_larger_than_its_share_of_memory_is_streamed(tmp_path: Path) -> None:
    size = 1024 * 768
    whole = image(120, Rows=768, Columns=1024, PixelData=bytes(120 * size))
    save(whole, tmp_path / "study" / "clip")  # 94 MB
    del whole
    tracemalloc.start()
    with open_study(tmp_path / "study") as opened:
        count = sum(1 for _ in opened.frames("clip"))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert count == 120
    assert peak < 16 * size
