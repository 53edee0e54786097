"""Calibrated regions: printed truth of real files, every trap they prove, and round trips."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydicom.data import get_testdata_file

from intake.made_dicom import image, region, spectrum
from tableside.intake import open_study
from tableside.intake.image_type import stated_mode
from tableside.intake.regions import calibration
from tableside.model import Image, Mode, Region, RegionKind


def opened_image(path: Path) -> Image:
    with open_study(path) as opened:
        return opened.study.images[0]


def pydicom_file(name: str) -> Path:
    found = get_testdata_file(name)
    assert isinstance(found, str)
    return Path(found)


def of_kind(one: Image, kind: RegionKind) -> Region:
    found = one.region(kind)
    assert found is not None
    return found


def one_region(item, rows: int = 48, columns: int = 64) -> Region:
    scales = calibration(image(SequenceOfUltrasoundRegions=[item]), rows, columns)
    assert len(scales.regions) == 1
    return scales.regions[0]


# What is printed on the screen of each file; the tolerance is one pixel of the mark plus half
# the last printed digit.


@pytest.mark.parametrize(
    ("name", "ends", "printed", "digit"),
    [
        ("JPGLosslessP14SV1_1s_1f_8b.dcm", ((629, 319), (689, 435)), 3.3, 0.1),
        ("examples_palette.dcm", ((459.5, 290.5), (498.5, 301.5)), 1.06, 0.01),
        ("OBXXXX1A.dcm", ((459.5, 290.5), (498.5, 301.5)), 1.06, 0.01),
    ],
)
def test_a_caliper_has_the_length_printed_beside_it(name, ends, printed, digit) -> None:
    found = of_kind(opened_image(pydicom_file(name)), RegionKind.TWO_D)
    assert found.doubt is None
    assert found.length_cm(*ends) == pytest.approx(printed, abs=found.cm_per_row + digit / 2)


def test_both_spacings_of_anisotropic_pixels_are_used(shared_data: Path) -> None:
    one = opened_image(shared_data / "human-echo" / "I_000001.dcm")
    found = of_kind(one, RegionKind.TWO_D)
    assert found.x is not None and found.y is not None
    assert found.x.per_pixel == pytest.approx(1 / 35)  # header: 0.0286
    assert found.y.per_pixel == pytest.approx(0.8 / 35)  # header: 0.0229
    assert one.stated_heart_rate == 117  # printed on the screen
    assert one.region(RegionKind.ECG) is not None


def test_the_depth_and_time_printed_on_an_m_mode(shared_data: Path) -> None:
    """I_000034 prints depth 0 to 10 cm; R peaks at columns 187 and 475.5 are 1.202 s apart."""
    one = opened_image(shared_data / "human-echo" / "I_000034.dcm")
    found = of_kind(one, RegionKind.M_MODE)
    assert one.mode is Mode.M_MODE
    assert found.y is not None
    assert found.y.value_at(221) == pytest.approx(0.0)
    assert found.y.pixel_at(10.0) - 221 == pytest.approx(188, abs=1)  # 188 rows of 0.0532 cm
    assert found.time_s(187, 475.5) == pytest.approx(1.202, abs=0.005)
    assert 60 / found.time_s(187, 475.5) == pytest.approx(49.9, abs=0.2)


def test_up_is_positive_and_the_zero_line_counts_from_the_strip(shared_data: Path) -> None:
    """I_000038: +20 cm/s is printed at row 240, above the zero line in row 352."""
    one = opened_image(shared_data / "human-echo" / "I_000038.dcm")
    found = of_kind(one, RegionKind.SPECTRAL)
    assert one.mode is Mode.SPECTRAL
    assert found.wave == "pulsed"
    assert found.baseline_row == 352
    assert found.velocity_m_s(240) == pytest.approx(0.20, abs=found.m_s_per_row + 0.0005)


def test_a_time_caliper_has_the_time_printed_beside_it(shared_data: Path) -> None:
    """I_000039: the caliper from column 247 to 304 prints 0.238 s."""
    one = opened_image(shared_data / "human-echo" / "I_000039.dcm")
    found = of_kind(one, RegionKind.SPECTRAL)
    assert found.time_s(247, 304) == pytest.approx(0.238, abs=found.s_per_column + 0.0005)


def test_an_m_mode_whose_time_starts_anywhere_counts_from_its_left_edge(
    shared_data: Path,
) -> None:
    """The pig's strip prints -4 to 0 s and 0 to 6 cm; its header says +3.98 at the left."""
    one = opened_image(shared_data / "pig-mmode" / "vivid7_pig_colour_mmode.dcm")
    found = of_kind(one, RegionKind.COLOUR_M_MODE)
    assert one.mode is Mode.COLOUR_M_MODE
    assert found.seconds_from_left(found.box[0]) == 0
    assert found.seconds_from_left(found.box[2]) == pytest.approx(4.0, abs=0.05)
    assert found.height * found.cm_per_row == pytest.approx(7.0, abs=0.05)
    assert one.stated_heart_rate == 96


def test_negative_deltas_and_regions_without_a_unit(shared_data: Path) -> None:
    """Maker B: region 0 has no unit, region 1 counts x to the left."""
    one = opened_image(shared_data / "human-echo" / "I_000029.dcm")
    bare, scaled = one.regions
    assert bare.kind is RegionKind.OTHER and bare.x is None and bare.y is None
    assert scaled.x is not None and scaled.x.per_pixel == pytest.approx(0.03628, abs=1e-5)
    assert scaled.length_cm((0, 0), (100, 0)) == pytest.approx(3.628, abs=1e-3)
    assert one.mode is Mode.TWO_D


def test_pixel_spacing_beside_regions_is_not_used(shared_data: Path) -> None:
    """Maker C's M-mode still says PixelSpacing 0.89 mm, which is its small 2-D picture's."""
    one = opened_image(shared_data / "human-echo" / "I_000034.dcm")
    assert {region.index for region in one.regions} == {0, 1}
    assert of_kind(one, RegionKind.M_MODE).cm_per_row == pytest.approx(0.0532, abs=1e-4)


@pytest.mark.parametrize(
    ("number", "mode"),
    [(31, Mode.TWO_D), (32, Mode.COLOUR), (35, Mode.TWO_D), (37, Mode.COLOUR)],
)
def test_colour_that_only_the_image_type_states(
    shared_data: Path, number: int, mode: Mode
) -> None:
    """Maker C calls every cine tissue; its ImageType says 0011 for colour (C.8.5.6.1.1)."""
    assert opened_image(shared_data / "human-echo" / f"I_0000{number}.dcm").mode is mode


@pytest.mark.parametrize(
    ("flags", "mode"),
    [
        ("0001", Mode.TWO_D),
        ("0003", Mode.M_MODE),
        ("0009", Mode.SPECTRAL),
        ("0005", Mode.SPECTRAL),
        ("0021", Mode.COLOUR_M_MODE),
        ("0011", Mode.COLOUR),
        ("XYZ", Mode.UNKNOWN),
    ],
)
def test_the_image_type_decides_where_there_are_no_regions(flags: str, mode: Mode) -> None:
    header = image(ImageType=["ORIGINAL", "PRIMARY", "", flags])
    assert stated_mode(header, Mode.UNKNOWN) is mode


def test_regions_go_before_the_image_type() -> None:
    header = image(ImageType=["ORIGINAL", "PRIMARY", "", "0003"])
    assert stated_mode(header, Mode.SPECTRAL) is Mode.SPECTRAL


def test_an_ecg_region_without_width_is_left_out(shared_data: Path) -> None:
    one = opened_image(shared_data / "odd" / "zero-width-ecg-region.dcm")
    assert [region.kind for region in one.regions] == [RegionKind.TWO_D, RegionKind.ECG]
    assert one.regions[0].box[2] == 799  # the header says 800, one past the end


def test_a_cropped_image_keeps_its_scale_and_says_so() -> None:
    one = opened_image(pydicom_file("examples_palette.dcm"))
    assert one.doubt is None
    assert one.regions[0].box == (120, 60, 799, 349)
    assert any("cropped" in note for note in one.notes)
    assert [region.kind for region in one.regions] == [RegionKind.TWO_D]  # ECG lies below


def test_a_shrunk_image_with_the_old_boxes_is_refused() -> None:
    """320 x 240 with a region to column 595: trusting it would halve every length."""
    one = opened_image(pydicom_file("examples_ybr_color.dcm"))
    assert one.doubt is not None and "shrunk" in one.doubt
    assert all(region.doubt for region in one.regions)
    assert one.stated_heart_rate is None  # the header says 0


def test_the_original_of_the_shrunk_image_is_taken() -> None:
    """The same clip at 640 x 480: 18 cm of ruler from row 51 to 404 (pydicom-data)."""
    one = opened_image(pydicom_file("color3d_jpeg_baseline.dcm"))
    assert one.doubt is None
    assert of_kind(one, RegionKind.TWO_D).cm_per_row == pytest.approx(18 / 353, rel=0.005)


def test_a_zero_delta_leaves_its_axis_without_a_scale() -> None:
    found = one_region(region(PhysicalDeltaY=0.0))
    assert found.y is None and found.x is not None


@pytest.mark.parametrize(
    "box", [(60, 0, 60, 47), (50, 10, 20, 40), (0, 47, 63, 47), (200, 200, 300, 300)]
)
def test_empty_and_outside_boxes_give_no_region_that_can_measure(box) -> None:
    corners = ("MinX0", "MinY0", "MaxX1", "MaxY1")
    item = region(**{f"RegionLocation{c}": v for c, v in zip(corners, box, strict=True)})
    scales = calibration(image(SequenceOfUltrasoundRegions=[item]), 48, 64)
    assert all(region.doubt for region in scales.regions)


def test_overlapping_and_repeated_regions_are_kept_once() -> None:
    inner = region(RegionLocationMinX0=20, RegionLocationMaxX1=40, RegionDataType=2)
    scales = calibration(image(SequenceOfUltrasoundRegions=[region(), region(), inner]), 48, 64)
    assert [one.kind for one in scales.regions] == [RegionKind.TWO_D, RegionKind.COLOUR]


def test_a_reference_counted_from_the_image_is_recognised() -> None:
    item = spectrum(RegionLocationMinY0=40, RegionLocationMaxY1=87, ReferencePixelY0=70)
    assert one_region(item, rows=100).baseline_row == 70  # 40 + 70 lies below the strip


def test_a_spectrum_whose_zero_line_is_nowhere_is_in_doubt() -> None:
    for item in (spectrum(ReferencePixelY0=900), spectrum(ReferencePixelY0=None)):
        found = one_region(item)
        assert found.doubt is not None and "baseline_row" in found.doubt


def test_the_zero_line_is_found_from_a_reference_elsewhere() -> None:
    """Reference row 10 at +100 cm/s, -5 cm/s a row: zero 20 rows below (C.8.5.5.1.16)."""
    item = spectrum(ReferencePixelY0=10, ReferencePixelPhysicalValueY=100.0)
    assert one_region(item).baseline_row == 30


@pytest.mark.parametrize("sign", [1, -1])
def test_up_is_positive_whatever_sign_is_stored(sign: int) -> None:
    found = one_region(spectrum(PhysicalDeltaY=sign * 5.0))
    assert found.velocity_m_s(10) == pytest.approx(1.0)


def test_doppler_shifts_become_velocities_only_with_the_frequency() -> None:
    """v = c f / (2 f0): 1000 Hz at 2 MHz is 0.385 m/s (textbook; c = 1540 m/s)."""
    hertz = {"PhysicalUnitsYDirection": 5, "PhysicalDeltaY": -100.0}
    found = one_region(spectrum(**hertz, TransducerFrequency=2000))
    assert found.velocity_m_s(20) == pytest.approx(0.385)
    assert one_region(spectrum(**hertz)).y is None


def test_units_decide_where_a_maker_calls_a_strip_a_2_d_picture() -> None:
    units = {"PhysicalUnitsXDirection": 4, "PhysicalUnitsYDirection": 3}
    assert one_region(region(**units)).kind is RegionKind.M_MODE


def test_pixel_spacing_alone_gives_a_scale_with_a_remark() -> None:
    """PS3.3 10.7.1.3: row spacing first, in mm."""
    scales = calibration(
        image(SequenceOfUltrasoundRegions=None, PixelSpacing=[0.5, 0.25]), 48, 64
    )
    (found,) = scales.regions
    assert found.length_cm((0, 0), (0, 10)) == pytest.approx(0.5)
    assert found.length_cm((0, 0), (10, 0)) == pytest.approx(0.25)
    assert "PixelSpacing" in scales.notes[0]


@given(
    top=st.integers(0, 300),
    reference=st.integers(0, 199),
    delta=st.floats(0.01, 50).flatmap(lambda size: st.sampled_from((size, -size))),
    row=st.floats(0, 500),
)
def test_velocity_goes_there_and_back(
    top: int, reference: int, delta: float, row: float
) -> None:
    item = spectrum(
        RegionLocationMinY0=top,
        RegionLocationMaxY1=top + 199,
        ReferencePixelY0=reference,
        PhysicalDeltaY=delta,
    )
    found = one_region(item, rows=600)
    assert found.y is not None
    assert found.y.pixel_at(found.velocity_m_s(row)) == pytest.approx(row, abs=1e-6)
    assert found.velocity_m_s(found.baseline_row - 1) == pytest.approx(abs(delta) / 100)


@given(
    reference=st.integers(-500, 500),
    value=st.floats(-20, 20),
    delta=st.floats(0.001, 0.2).flatmap(lambda size: st.sampled_from((size, -size))),
)
def test_depth_grows_downwards_by_the_size_of_the_delta(
    reference: int, value: float, delta: float
) -> None:
    item = region(
        RegionSpatialFormat=2,
        PhysicalUnitsXDirection=4,
        PhysicalDeltaY=delta,
        ReferencePixelY0=reference,
        ReferencePixelPhysicalValueY=value,
    )
    found = one_region(item)
    assert found.y is not None
    assert found.y.value_at(40) - found.y.value_at(39) == pytest.approx(abs(delta))
    assert abs(found.y.value_at(reference)) == pytest.approx(abs(value))
    assert found.length_cm((3, 10), (60, 30)) == pytest.approx(20 * abs(delta))
