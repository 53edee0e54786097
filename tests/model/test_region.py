"""Regions turn pixels into physical values; the numbers are of published teaching screens.

Source of the screens: open teaching images of the TTE47 and MInD collections, whose printed
values follow from the printed scale and the points alone.
"""

from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tableside.errors import NotMeasurable
from tableside.model import Axis, Region, RegionKind

BOX = (0, 0, 799, 799)


def spectrum(baseline: float, rows_per_m_s: float, columns_per_s: float = 284.0) -> Region:
    return Region(
        index=0,
        kind=RegionKind.SPECTRAL,
        box=BOX,
        x=Axis(unit="s", per_pixel=1 / columns_per_s),
        y=Axis(unit="m/s", per_pixel=-1 / rows_per_m_s, origin_px=baseline),
    )


def flat(cm_x: float, cm_y: float, kind: RegionKind = RegionKind.TWO_D) -> Region:
    x = Axis(unit="cm" if kind is RegionKind.TWO_D else "s", per_pixel=cm_x)
    return Region(index=0, kind=kind, box=BOX, x=x, y=Axis(unit="cm", per_pixel=cm_y))


@pytest.mark.parametrize(
    ("baseline", "rows_per_cm_s", "row", "printed_cm_s", "tolerance"),
    [
        (586.0, 2.06, 433.0, 74.2, 0.5),  # mitral E; a row is 0.49 cm/s
        (586.0, 2.06, 400.5, 90.2, 0.5),  # mitral A
        (439.0, 0.92, 678.0, -260.0, 1.1),  # tricuspid regurgitation, away from the probe
        (683.0, 2.06, 546.0, 66.5, 0.5),  # start of a deceleration slope
    ],
)
def test_a_row_of_a_spectrum_gives_the_printed_velocity(
    baseline: float, rows_per_cm_s: float, row: float, printed_cm_s: float, tolerance: float
) -> None:
    region = spectrum(baseline, rows_per_cm_s * 100)
    assert region.velocity_m_s(row) * 100 == pytest.approx(printed_cm_s, abs=tolerance)


def test_two_columns_give_the_printed_times() -> None:
    region = spectrum(683.0, 206.0)
    assert 60 / region.time_s(400, 653) == pytest.approx(67, abs=0.5)  # printed 67/min
    assert region.time_s(330, 407) == pytest.approx(0.271, abs=0.0005)  # printed 271 ms


def test_an_mmode_caliper_counts_depth_only() -> None:
    region = flat(0.005, 1 / 23.0, RegionKind.M_MODE)
    length = region.length_cm((370, 627), (488, 582))
    assert length == pytest.approx(1.96, abs=0.005)  # printed 1.96 cm


def test_a_length_needs_both_spacings_and_no_sign() -> None:
    region = flat(-0.02, 0.05)
    assert region.length_cm((0, 0), (3, 4)) == pytest.approx(hypot(0.06, 0.2))


def test_distance_on_a_spectrum_is_refused_in_words() -> None:
    with pytest.raises(NotMeasurable, match="scale in m/s along y where cm is needed"):
        spectrum(400, 100).length_cm((0, 0), (0, 10))


@given(st.floats(-2000, 2000), st.floats(1e-4, 1.0), st.booleans())
def test_value_and_pixel_are_inverse(pixel: float, size: float, down: bool) -> None:
    axis = Axis(unit="cm", per_pixel=size if down else -size, origin_px=12.5, origin=3.0)
    assert axis.pixel_at(axis.value_at(pixel)) == pytest.approx(pixel, abs=1e-6)


@given(st.integers(0, 50), st.integers(2, 40), st.integers(2, 40))
def test_area_of_a_rectangle_is_width_by_height(at: int, width: int, height: int) -> None:
    region = flat(0.02, 0.03)
    corners = ((at, at), (at + width, at), (at + width, at + height), (at, at + height))
    points = tuple((float(x), float(y)) for x, y in corners)
    assert region.area_cm2(points) == pytest.approx(width * 0.02 * height * 0.03)
