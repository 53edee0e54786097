"""Which region a caliper belongs to, which calipers are refused, and how beats are grouped."""

from dataclasses import replace

import pytest

from measure.calibrated_images import caliper, image, mmode, picture, spectrum, study
from tableside.measure.caliper_rules import caliper_rules
from tableside.measure.calipers import caliper_measurements
from tableside.model import Axis, Caliper, Image, RegionKind, quantities

PICTURE = picture(0.02, 0.02, box=(0, 0, 639, 399))
TRACING = mmode(0.005, 0.03, box=(0, 400, 639, 799), index=1)
BOTH = image(PICTURE, TRACING)
JET = image(spectrum(300, 100, baseline_row=100))


def reason(shown: Image, one: Caliper) -> str:
    found, rejected = caliper_measurements(study([shown], one))
    assert found == ()
    assert len(rejected) == 1
    assert rejected[0].file == one.file
    assert rejected[0].reason.startswith(f"caliper {one.quantity}: ")
    return rejected[0].reason


def test_every_quantity_of_the_catalogue_has_a_rule() -> None:
    assert caliper_rules().keys() == quantities().keys()


def test_a_caliper_takes_the_scale_of_the_region_it_lies_in() -> None:
    in_picture, in_tracing = (
        caliper_measurements(study([BOTH], caliper("LVIDd", *points)))[0][0]
        for points in ([(100, 100), (100, 200)], [(100, 500), (100, 600)])
    )
    assert (in_picture.value, in_picture.scale) == (pytest.approx(2.0), "I1.dcm#0")
    assert (in_tracing.value, in_tracing.scale) == (pytest.approx(3.0), "I1.dcm#1")
    assert in_picture.beats[0].time_s is None
    assert in_tracing.beats[0].time_s == pytest.approx(0.5)


def test_a_left_atrium_on_an_mmode_is_another_number_than_in_short_axis() -> None:
    on_mmode = caliper("LA", (100, 500), (100, 600))
    in_short_axis = caliper("LA", (100, 100), (100, 200))
    found, _ = caliper_measurements(study([BOTH], on_mmode, in_short_axis))
    assert [one.detail for one in found] == ["m-mode", None]


def test_the_innermost_of_nested_regions_is_taken() -> None:
    # DICOM PS3.3 C.8.5.5.1.3: the colour box lies in the tissue region; zoomed here
    zoomed = picture(0.01, 0.01, box=(50, 50, 300, 300), index=1)
    found, _ = caliper_measurements(
        study([image(PICTURE, zoomed)], caliper("LVIDd", (100, 100), (100, 250)))
    )
    assert found[0].value == pytest.approx(1.5)


def test_a_nested_region_without_a_scale_is_passed_over() -> None:
    bare = replace(picture(0.01, 0.01, box=(50, 50, 300, 300), index=1), x=None, y=None)
    found, _ = caliper_measurements(
        study([image(PICTURE, bare)], caliper("LVIDd", (100, 100), (100, 250)))
    )
    assert found[0].value == pytest.approx(3.0)


def test_a_doubted_scale_is_refused_and_nothing_else_stands_in_for_it() -> None:
    doubted = replace(
        picture(0.01, 0.01, box=(50, 50, 300, 300), index=1),
        doubt="the ruler disagrees with the file by 6 %",
    )
    said = reason(image(PICTURE, doubted), caliper("LVIDd", (100, 100), (100, 250)))
    assert "the ruler disagrees with the file by 6 %" in said


def test_a_doubted_image_is_refused_with_its_reason() -> None:
    shown = replace(BOTH, doubt="the picture was shrunk and its scale was not")
    said = reason(shown, caliper("LVIDd", (100, 100), (100, 250)))
    assert "the picture was shrunk and its scale was not" in said


def test_points_in_two_regions_are_refused() -> None:
    said = reason(BOTH, caliper("LVIDd", (100, 300), (100, 500)))
    assert "different parts of the image" in said


def test_a_point_outside_every_region_is_named() -> None:
    said = reason(BOTH, caliper("LVIDd", (100, 300), (900, 300)))
    assert "(900, 300) lies outside" in said


def test_a_velocity_on_a_picture_is_refused() -> None:
    said = reason(BOTH, caliper("MR_Vmax", (100, 300)))
    assert "measured on a spectral Doppler tracing" in said
    assert "this image is a 2-D image with an M-mode" in said


def test_a_length_on_a_spectrum_is_refused() -> None:
    assert "a 2-D image or" in reason(JET, caliper("LVIDd", (100, 100), (100, 200)))


def test_an_image_without_a_scale_says_so() -> None:
    assert "carries no scale; give" in reason(image(), caliper("LVIDd", (1, 1), (1, 9)))


def test_a_region_without_the_needed_unit_is_refused() -> None:
    in_hertz = replace(JET.regions[0], y=Axis(unit="Hz", per_pixel=-20.0))
    said = reason(replace(JET, regions=(in_hertz,)), caliper("MR_Vmax", (100, 300)))
    assert "no scale" in said


@pytest.mark.parametrize(
    ("quantity", "count", "wanted"),
    [("LVIDd", 1, "2"), ("LVIDd", 3, "2"), ("LAA", 2, "3 or more"), ("EDV", 4, "5 or more")],
)
def test_a_wrong_number_of_points_is_refused(quantity: str, count: int, wanted: str) -> None:
    points = [(100.0 + 10 * i, 100.0 + 7 * (i % 2)) for i in range(count)]
    assert reason(BOTH, caliper(quantity, *points)).endswith(f"it takes {wanted}")


def test_a_velocity_takes_one_or_two_points() -> None:
    points = [(100.0, 300.0), (110.0, 310.0), (120.0, 320.0)]
    assert "it takes 1 or 2" in reason(JET, caliper("MR_Vmax", *points))


def test_two_points_of_a_velocity_count_from_the_baseline_not_from_each_other() -> None:
    # A peak at 3 m/s, and the other end of the drag a little off the baseline
    found, _ = caliper_measurements(study([JET], caliper("MR_Vmax", (200, 108), (200, 400))))
    assert found[0].value == pytest.approx(3.0)


def test_a_value_that_no_animal_has_is_refused() -> None:
    said = reason(BOTH, caliper("LVIDd", (100, 100), (100, 101)))
    assert "a dog or cat has 0.5 to 12" in said


def test_an_outline_that_crosses_itself_is_refused() -> None:
    bow_tie = [(100.0, 100.0), (200.0, 200.0), (200.0, 100.0), (100.0, 200.0)]
    assert "crosses itself" in reason(BOTH, caliper("LAA", *bow_tie))


def test_an_outline_without_an_inside_is_refused() -> None:
    line = [(100.0, 100.0), (150.0, 100.0), (200.0, 100.0)]
    assert "encloses nothing" in reason(BOTH, caliper("LAA", *line))


def test_a_volume_from_a_short_axis_is_refused() -> None:
    shown = replace(BOTH, view="right parasternal short axis, papillary muscles")
    outline = [(100.0, 300.0), (120.0, 200.0), (150.0, 150.0), (180.0, 200.0), (200.0, 300.0)]
    assert "needs a view along the ventricle" in reason(shown, caliper("EDV", *outline))


def test_a_slope_that_rises_is_refused() -> None:
    assert "does not fall" in reason(JET, caliper("DT", (100, 150), (150, 300)))


def test_a_trace_on_both_sides_of_the_baseline_is_refused() -> None:
    points = [(100.0, 100.0), (120.0, 300.0), (140.0, 20.0)]
    assert "both sides of the baseline" in reason(JET, caliper("MR_VTI", *points))


def test_an_excursion_is_measured_on_an_mmode_alone() -> None:
    assert "an M-mode" in reason(image(PICTURE), caliper("TAPSE", (100, 100), (100, 200)))


def test_two_r_waves_in_one_column_are_refused() -> None:
    assert "one column" in reason(BOTH, caliper("HR", (100, 500), (100, 600)))


def test_unknown_quantities_files_and_frames_are_refused() -> None:
    assert "no quantity 'LVXX'" in reason(BOTH, caliper("LVXX", (1, 1)))
    missing = caliper("LVIDd", (1, 1), (1, 99), file="I9.dcm")
    assert "not among the images" in reason(BOTH, missing)
    late = caliper("LVIDd", (1, 1), (1, 99), frame=5)
    assert "frames are 0 to 0" in reason(BOTH, late)


def test_one_refused_caliper_does_not_stop_the_others() -> None:
    good, bad = caliper("LVIDd", (100, 100), (100, 250)), caliper("LVIDd", (1, 1))
    found, rejected = caliper_measurements(study([BOTH], bad, good))
    assert ([one.quantity for one in found], len(rejected)) == (["LVIDd"], 1)


def test_a_systole_larger_than_its_diastole_is_measured_as_drawn() -> None:
    diastole = caliper("LVIDd", (100, 100), (100, 200))
    systole = caliper("LVIDs", (100, 100), (100, 250))
    found, rejected = caliper_measurements(study([BOTH], diastole, systole))
    assert ([one.value for one in found], rejected) == (
        [pytest.approx(2), pytest.approx(3)],
        (),
    )


def test_calipers_of_one_quantity_in_one_picture_are_beats_of_one_measurement() -> None:
    drawn = [caliper("LVIDd", (x, 450), (x, 450 + rows)) for x, rows in ((100, 99), (300, 101))]
    found, _ = caliper_measurements(study([BOTH], *drawn))
    assert len(found) == 1
    assert found[0].value == pytest.approx(3.0)
    assert [beat.points for beat in found[0].beats] == [one.points for one in drawn]
    assert found[0].method == "caliper"


def test_calipers_in_two_pictures_of_one_file_stand_apart() -> None:
    drawn = caliper("LVIDd", (100, 450), (100, 550)), caliper("LVIDd", (100, 100), (100, 250))
    found, _ = caliper_measurements(study([BOTH], *drawn))
    assert [one.scale for one in found] == ["I1.dcm#1", "I1.dcm#0"]


def test_a_time_may_be_read_on_the_ecg_strip() -> None:
    strip = replace(
        mmode(0.004, 0.03, box=(0, 700, 639, 760), index=2), kind=RegionKind.ECG, y=None
    )
    shown = image(PICTURE, strip)
    found, _ = caliper_measurements(study([shown], caliper("HR", (100, 730), (250, 730))))
    assert found[0].value == pytest.approx(100.0)
