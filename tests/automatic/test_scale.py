"""The header's scale against the ruler on the image: silence on good images, doubt on bad."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydicom.data import get_testdata_file

from tableside.automatic.scale import check_scale
from tableside.intake import open_study
from tableside.model import Axis, Image, Mode, Region, RegionKind

WRONG = [0.95, 1.05, 1.1, 1.3, 0.75]  # as after resizing an image without its header


def real(path: Path) -> tuple[Image, np.ndarray]:
    with open_study(path) as opened:
        image = opened.study.images[0]
        return image, opened.frame(image.file, image.frames - 1)


def pydicom_file(name: str) -> Path:
    found = get_testdata_file(name)
    assert isinstance(found, str)
    return Path(found)


def scaled(image: Image, share: float) -> Image:
    """Return the image with the header it would have after resizing it."""

    def changed(region: Region) -> Region:
        if region.y is None:
            return region
        axis = replace(region.y, per_pixel=region.y.per_pixel * share)
        return replace(region, y=axis)

    return replace(image, regions=tuple(map(changed, image.regions)))


def test_no_real_image_raises_a_false_alarm(shared_data: Path) -> None:
    files = [*shared_data.glob("human-echo/*"), *shared_data.glob("pig-mmode/*")]
    files += shared_data.glob("odd/*")
    names = ("examples_palette.dcm", "OBXXXX1A.dcm", "JPGLosslessP14SV1_1s_1f_8b.dcm")
    files += map(pydicom_file, (*names, "color3d_jpeg_baseline.dcm"))
    assert len(files) == 46
    alarms = {}
    for path in files:
        image, pixels = real(path)
        alarms[path.name] = check_scale(image, pixels).doubt
    assert {name: doubt for name, doubt in alarms.items() if doubt} == {}


@pytest.mark.parametrize("share", WRONG)
@pytest.mark.parametrize(
    "name",
    ["human-echo/I_000031.dcm", "human-echo/I_000034.dcm", "human-echo/I_000038.dcm"],
)
def test_a_wrong_header_on_a_real_image_is_noticed(
    shared_data: Path, name: str, share: float
) -> None:
    image, pixels = real(shared_data / name)
    doubted = check_scale(scaled(image, share), pixels)
    assert doubted.doubt is not None
    assert "disagrees with the ruler" in doubted.doubt
    assert doubted.doubt in doubted.notes


@pytest.mark.parametrize("share", WRONG)
def test_a_wrong_header_on_a_clip_of_another_maker_is_noticed(share: float) -> None:
    image, pixels = real(pydicom_file("color3d_jpeg_baseline.dcm"))
    assert check_scale(scaled(image, share), pixels).doubt is not None


def test_one_percent_is_not_worth_an_alarm(shared_data: Path) -> None:
    image, pixels = real(shared_data / "human-echo" / "I_000034.dcm")
    assert check_scale(scaled(image, 1.01), pixels).doubt is None


BOX = (40, 20, 359, 319)


def drawn(gap_px: int) -> np.ndarray:
    pixels = np.zeros((340, 440, 3), np.uint8)
    pixels[BOX[1] : BOX[3] : gap_px, 366:372] = 230
    return pixels


def m_mode(cm_per_row: float, source: str = "dicom") -> Image:
    depth = Axis(unit="cm", per_pixel=cm_per_row)
    region = Region(index=0, kind=RegionKind.M_MODE, box=BOX, y=depth, source=source)
    return Image(file="a", mode=Mode.M_MODE, rows=340, columns=440, regions=(region,))


@settings(deadline=None)
@given(gap_px=st.integers(8, 34), unit_cm=st.sampled_from((0.1, 0.25, 0.5, 1.0, 2.0)))
def test_rulers_in_every_usual_unit_agree(gap_px: int, unit_cm: float) -> None:
    image = m_mode(unit_cm / gap_px)
    assert check_scale(image, drawn(gap_px)) is image


@pytest.mark.parametrize("share", [0.93, 1.07, 1.4])
def test_a_drawn_ruler_that_disagrees_says_by_how_much(share: float) -> None:
    doubt = check_scale(m_mode(share / 25), drawn(25)).doubt
    assert doubt is not None
    assert "12 marks" in doubt and "cm" in doubt and "worksheet" in doubt


def test_without_a_ruler_nothing_changes() -> None:
    image = m_mode(0.04)
    assert check_scale(image, np.zeros((340, 440, 3), np.uint8)) is image


def test_a_scale_read_by_a_person_is_remarked_on_and_used() -> None:
    found = check_scale(m_mode(1.07 / 25, source="worksheet"), drawn(25))
    assert found.doubt is None
    assert len(found.notes) == 1


def test_an_image_in_doubt_stays_as_it_is() -> None:
    image = replace(m_mode(1.07 / 25), doubt="for another reason")
    assert check_scale(image, drawn(25)) is image


def test_velocity_rulers_of_odd_steps_raise_no_alarm() -> None:
    """Scales that follow the pulse rate are divided by 0.3, 0.4 or 0.8 m/s as well."""
    for step_m_s in (0.3, 0.4, 0.8):
        speed = Axis(unit="m/s", per_pixel=-step_m_s / 20, origin_px=160)
        region = Region(index=0, kind=RegionKind.SPECTRAL, box=BOX, y=speed)
        image = Image(file="a", mode=Mode.SPECTRAL, rows=340, columns=440, regions=(region,))
        assert check_scale(image, drawn(20)) is image
