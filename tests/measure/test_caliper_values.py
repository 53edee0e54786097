"""Calipers against what was printed on screens, and against closed forms."""

from decimal import Decimal
from math import hypot, pi, sin, sqrt
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from measure.calibrated_images import caliper, image, mmode, picture, spectrum, study
from tableside.measure.calipers import caliper_measurements
from tableside.model import Image, Measurement, Point, Region

points_on_screen = st.tuples(st.floats(0, 1279), st.floats(0, 799))


def measured(region: Region, quantity: str, *points: Point, **labels: object) -> Measurement:
    shown: Image = image(region, **labels)
    found, rejected = caliper_measurements(study([shown], caliper(quantity, *points)))
    assert rejected == ()
    return found[0]


def half_last_digit(printed: str) -> float:
    exponent = Decimal(printed).as_tuple().exponent
    assert isinstance(exponent, int)
    return 0.5 * 10.0**exponent


INFLOW = spectrum(284, 206, baseline_row=586)
SLOPE = spectrum(284, 206, baseline_row=683)
TRICUSPID = spectrum(284, 92, baseline_row=439)
EXCURSION = mmode(0.004, 1 / 23.0)


class Screen(NamedTuple):
    """A caliper, and the value printed beside it in ``unit`` of the quantity's unit."""

    quantity: str
    region: Region
    points: list[Point]
    unit: float
    printed: str
    one_px: float


# Each value as printed on an open teaching screen (TTE47 and MInD collections); the allowance
# is one pixel of the mark and half the last printed digit.
SCREENS = [
    Screen("E", INFLOW, [(500, 433)], 0.01, "74.2", 1 / 2.06),
    Screen("A", INFLOW, [(560, 400.5)], 0.01, "90.2", 1 / 2.06),
    Screen("HR", INFLOW, [(400, 600), (653, 600)], 1.0, "67", 0.27),
    Screen("TR_Vmax", TRICUSPID, [(700, 678)], 0.01, "260", 1 / 0.92),
    Screen("E", SLOPE, [(330, 546), (407, 682)], 0.01, "66.5", 1 / 2.06),
    Screen("DT", SLOPE, [(330, 546), (407, 682)], 1.0, "271", 1000 / 284),
    Screen("TAPSE", EXCURSION, [(370, 627), (488, 582)], 1.0, "1.96", 1 / 23.0),
]


@pytest.mark.parametrize("screen", SCREENS, ids=lambda s: f"{s.quantity}={s.printed}")
def test_a_caliper_gives_what_the_screen_printed(screen: Screen) -> None:
    got = measured(screen.region, screen.quantity, *screen.points).value / screen.unit
    allowed = screen.one_px + half_last_digit(screen.printed)
    assert got == pytest.approx(float(screen.printed), abs=allowed)


def test_a_caliper_on_the_aorta_gives_the_printed_diameter() -> None:
    # pydicom-data JPGLosslessP14SV1_1s_1f_8b.dcm: its region's deltas; prints 3.3 cm
    region = picture(0.025476696592378157, 0.025476696592378157)
    assert measured(region, "Ao", (629, 319), (689, 435)).value == pytest.approx(3.3, abs=0.076)


def test_a_caliper_on_a_palette_image_gives_the_printed_length() -> None:
    # pydicom examples_palette.dcm: its region's deltas; prints 1.06 cm
    region = picture(0.02622878766196998, 0.02622878766196998)
    got = measured(region, "LVOTd", (459.5, 290.5), (498.5, 301.5)).value
    assert got == pytest.approx(1.06, abs=0.031)


def test_an_image_with_two_spacings_uses_both() -> None:
    # A paediatric study with 0.02857 cm a column and 0.02286 cm a row: ruler dots 2 cm apart
    region = picture(0.02857142857142857, 0.022857142857142857)
    slanted = measured(region, "LA", (100, 100), (135, 175)).value
    assert slanted == pytest.approx(hypot(1.0, 1.714), abs=0.01)  # computed
    across = measured(region, "LA", (100, 100), (170, 100)).value
    down = measured(region, "LA", (100, 100), (100, 187.5)).value
    assert (across, down) == pytest.approx((2.0, 2.0), abs=0.001)  # computed


def test_a_time_caliper_gives_the_printed_time() -> None:
    # Tissue Doppler still with 0.0041667 s a column: prints 0.238 s
    region = spectrum(1 / 0.004166666883975267, 559.6, baseline_row=352)
    got = measured(region, "ET", (247, 300), (304, 300)).value
    assert got == pytest.approx(238, abs=4.17 + 0.5)


def test_an_annular_velocity_has_no_sign() -> None:
    # Same still: 20 cm/s is printed at row 240 for a baseline at row 352
    region = spectrum(240, 100 / 0.17869562069272812, baseline_row=352)
    above = measured(region, "S'", (300, 240)).value
    below = measured(region, "E'", (300, 464)).value
    assert (above, below) == pytest.approx((0.20, 0.20), abs=0.002)


@given(points_on_screen, points_on_screen)
def test_a_length_does_not_depend_on_which_end_came_first(one: Point, other: Point) -> None:
    region = picture(0.003, 0.002)
    there, _ = caliper_measurements(study([image(region)], caliper("EPSS", one, other)))
    back, _ = caliper_measurements(study([image(region)], caliper("EPSS", other, one)))
    assert [m.value for m in there] == pytest.approx([m.value for m in back], rel=1e-12)
    assert [m.sd for m in there] == pytest.approx([m.sd for m in back], rel=1e-9)


@given(st.floats(0, 1279), st.floats(0, 1279))
def test_an_mmode_length_ignores_the_columns(one_px: float, other_px: float) -> None:
    region = mmode(0.005, 0.02)
    assert measured(region, "LVIDd", (one_px, 100), (other_px, 300)).value == pytest.approx(4.0)


def half_sine(peak_m_s: float, time_s: float, points: int = 101) -> list[Point]:
    """An envelope on a spectrum of 300 columns/s, 150 rows per m/s, baseline at row 100."""
    shares = [i / (points - 1) for i in range(points)]
    return [(200 + 300 * time_s * u, 100 + 150 * peak_m_s * sin(pi * u)) for u in shares]


OUTFLOW = spectrum(300, 150, baseline_row=100)


@given(st.floats(0.4, 4.5), st.floats(0.12, 0.4), st.booleans())
def test_a_half_sine_has_its_closed_form_integral_and_mean_gradient(
    peak_m_s: float, time_s: float, backwards: bool
) -> None:
    points = half_sine(peak_m_s, time_s)
    points = points[::-1] if backwards else points
    integral = measured(OUTFLOW, "AV_VTI", *points).value
    gradient = measured(OUTFLOW, "AV_MG", *points).value
    assert integral == pytest.approx(100 * 2 * peak_m_s * time_s / pi, rel=1e-3)  # calculus
    assert gradient == pytest.approx(2 * peak_m_s**2, rel=1e-3)  # 4 v^2 times one half


def test_a_triangle_has_its_closed_form_integral_and_mean_gradient() -> None:
    points = [(200, 100), (245, 400), (290, 100)]  # 2 m/s at the middle of 0.3 s
    assert measured(OUTFLOW, "PV_VTI", *points).value == pytest.approx(30.0)  # v T / 2
    assert measured(OUTFLOW, "PV_MG", *points).value == pytest.approx(16 / 3)  # 4 v^2 / 3


def test_a_trace_closed_along_the_baseline_gives_the_same_integral() -> None:
    points = half_sine(1.2, 0.2)
    closed = [*points, points[0]]
    one, other = (measured(OUTFLOW, "AV_VTI", *drawn).value for drawn in (points, closed))
    assert one == pytest.approx(other, rel=1e-9)


def test_a_trace_that_starts_high_above_the_baseline_says_what_is_left_out() -> None:
    cut = half_sine(1.2, 0.2)[20:-20]
    assert "part of the flow is left out" in measured(OUTFLOW, "AV_VTI", *cut).notes[0]
    assert measured(OUTFLOW, "AV_VTI", *half_sine(1.2, 0.2)).notes == ()


def test_a_deceleration_line_that_ends_high_is_extended_to_the_baseline() -> None:
    # 1 m/s falling to 0.5 m/s in 100 ms reaches 0 after 200 ms (a straight line)
    region = spectrum(300, 150, baseline_row=400)
    found = measured(region, "DT", (200, 250), (230, 325))
    assert found.value == pytest.approx(200.0)
    assert "extended to the baseline" in found.notes[0]


def test_a_level_deceleration_caliper_is_a_time() -> None:
    region = spectrum(300, 150, baseline_row=400)
    found = measured(region, "DT", (200, 390), (230, 391))
    assert found.value == pytest.approx(100.0)
    assert found.notes == ()


@given(st.floats(1.0, 6.0), st.floats(0.05, 0.95), st.floats(0.1, 0.8))
def test_a_pressure_half_time_is_0_293_of_the_straight_deceleration(
    peak_m_s: float, later: float, time_s: float
) -> None:
    region = spectrum(500, 100, baseline_row=700)
    start, end = (100, 700 - 100 * peak_m_s), (100 + 500 * time_s, 700 - 100 * peak_m_s * later)
    deceleration_ms = 1000 * time_s / (1 - later)
    found, rejected = caliper_measurements(
        study([image(region)], caliper("AR_PHT", start, end))
    )
    expected = 0.293 * deceleration_ms  # the pressure 4 v^2 halves at v / sqrt 2
    if expected > 2000:
        assert "a dog or cat has" in rejected[0].reason
    elif expected > 20.1:
        assert found[0].value == pytest.approx(expected, rel=1e-3)


def test_a_volume_is_that_of_the_drawn_half_ellipsoid() -> None:
    region = picture(0.02, 0.01)
    outline = [
        (
            400 + 1.8 / 0.02 * (1 - 2 * i / 60),
            600 - 5.0 / 0.01 * sqrt(1 - (1 - 2 * i / 60) ** 2),
        )
        for i in range(61)
    ]
    truth = 2 / 3 * pi * 1.8**2 * 5.0  # half of 4/3 pi a b c
    assert measured(region, "EDV", *outline).value == pytest.approx(truth, rel=0.01)
    back_to_start = [*outline, outline[0]]
    assert measured(region, "EDV", *back_to_start).value == pytest.approx(truth, rel=0.01)


def test_an_area_counts_both_spacings() -> None:
    region = picture(0.02, 0.01)
    square = [(100, 100), (200, 100), (200, 300), (100, 300)]  # 2 cm by 2 cm
    assert measured(region, "LAA", *square).value == pytest.approx(4.0)


def test_the_spread_of_a_length_is_the_pixel_and_the_edge_at_both_ends() -> None:
    # methods of the docs: pixel / sqrt 12, edge 0.3 mm along the beam and three times across
    region = picture(0.02, 0.02)
    pixel = 0.02 / sqrt(12)
    down = measured(region, "LVIDd", (100, 100), (100, 300))
    across = measured(region, "LVIDd", (100, 100), (300, 100))
    assert down.beats[0].sd == pytest.approx(sqrt(2) * hypot(pixel, 0.03))
    assert across.beats[0].sd == pytest.approx(sqrt(2) * hypot(pixel, 0.09))
    assert down.spread.calibration == pytest.approx(0.005 * 4.0)


def test_the_spread_of_a_rate_follows_its_interval() -> None:
    region = mmode(0.005, 0.02)
    found = measured(region, "HR", (100, 50), (220, 50))
    interval_sd_s = sqrt(2) * hypot(1.5 * 0.005, 0.002)
    assert found.value == pytest.approx(100.0)
    assert found.beats[0].sd == pytest.approx(100.0 * interval_sd_s / 0.6)


@given(st.floats(0.5, 4.5))
def test_a_mean_gradient_is_twice_as_uncertain_as_its_speed(peak_m_s: float) -> None:
    points = half_sine(peak_m_s, 0.3)
    found = measured(OUTFLOW, "AV_MG", *points)
    assert found.beats[0].sd / found.value >= 2 * 0.02
    assert found.spread.calibration == pytest.approx(2 * 0.005 * found.value)
