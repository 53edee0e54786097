"""Areas and volumes against closed forms; what must not depend on how a person draws."""

from math import cos, pi, sin, tau

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tableside.errors import NotMeasurable
from tableside.measure.geometry import (
    area,
    crosses_itself,
    disc_volume_mL,
    long_axis,
    perimeter,
)

angles = st.floats(0, tau)
places = st.floats(-50, 50)


@st.composite
def star_outlines(draw: st.DrawFn) -> list[tuple[float, float]]:
    """Outlines that never cross themselves: one radius for each of several directions."""
    radii = draw(st.lists(st.floats(0.5, 6.0), min_size=3, max_size=40))
    x, y = draw(places), draw(places)
    step = tau / len(radii)
    return [(x + r * cos(i * step), y + r * sin(i * step)) for i, r in enumerate(radii)]


def half_ellipse(
    half_width: float, length: float, turn: float = 0.0, points: int = 181
) -> list[tuple[float, float]]:
    """From one end of the annulus around the apex to the other end, turned by an angle."""
    drawn = [
        (half_width * cos(pi * i / (points - 1)), length * sin(pi * i / (points - 1)))
        for i in range(points)
    ]
    return [(x * cos(turn) - y * sin(turn), x * sin(turn) + y * cos(turn)) for x, y in drawn]


@given(star_outlines(), st.integers(0, 39), st.booleans())
def test_an_area_does_not_depend_on_where_or_which_way_the_outline_starts(
    outline: list[tuple[float, float]], start: int, backwards: bool
) -> None:
    start %= len(outline)
    other = outline[start:] + outline[:start]
    other = other[::-1] if backwards else other
    assert area(other) == pytest.approx(area(outline), rel=1e-9)
    assert perimeter(other) == pytest.approx(perimeter(outline), rel=1e-9)


@given(star_outlines())
def test_a_star_shaped_outline_does_not_cross_itself(
    outline: list[tuple[float, float]],
) -> None:
    assert not crosses_itself(outline)


@given(star_outlines(), st.data())
def test_two_points_swapped_in_a_convex_outline_make_it_cross_itself(
    outline: list[tuple[float, float]], data: st.DataObject
) -> None:
    count = len(outline)
    assume(count >= 5)
    circle = [(cos(tau * i / count), sin(tau * i / count)) for i in range(count)]
    first = data.draw(st.integers(0, count - 2))
    circle[first], circle[first + 1] = circle[first + 1], circle[first]
    assert crosses_itself(circle)


def test_the_area_of_a_circle_drawn_with_many_points_is_pi_r_squared() -> None:
    circle = [(3 * cos(tau * i / 720), 3 * sin(tau * i / 720)) for i in range(720)]
    assert area(circle) == pytest.approx(pi * 9, rel=1e-4)  # Euclid
    assert perimeter(circle) == pytest.approx(tau * 3, rel=1e-4)


@given(st.floats(0.4, 4.0), st.floats(1.05, 3.0), angles)
def test_discs_give_half_an_ellipsoid_within_one_percent(
    half_width: float, ratio: float, turn: float
) -> None:
    length = half_width * ratio
    truth = 2 / 3 * pi * half_width**2 * length  # half of 4/3 pi a b c
    outline = half_ellipse(half_width, length, turn)
    assert disc_volume_mL(outline) == pytest.approx(truth, rel=0.01)


@given(st.floats(0.5, 4.0), st.floats(1.0, 3.0), angles)
def test_discs_give_a_whole_ellipsoid_drawn_from_its_pole_within_one_percent(
    half_width: float, ratio: float, turn: float
) -> None:
    half_length = half_width * ratio
    drawn = [
        (half_width * sin(tau * i / 360), -half_length * cos(tau * i / 360)) for i in range(361)
    ]
    outline = [(x * cos(turn) - y * sin(turn), x * sin(turn) + y * cos(turn)) for x, y in drawn]
    truth = 4 / 3 * pi * half_width**2 * half_length
    assert disc_volume_mL(outline) == pytest.approx(truth, rel=0.01)


@given(st.floats(0.4, 4.0), st.floats(1.05, 3.0), st.floats(0.2, 5.0))
def test_a_volume_grows_with_the_cube_of_the_scale_and_not_with_the_direction(
    half_width: float, ratio: float, scale: float
) -> None:
    outline = half_ellipse(half_width, half_width * ratio, points=61)
    larger = [(scale * x, scale * y) for x, y in outline]
    assert disc_volume_mL(larger[::-1]) == pytest.approx(
        scale**3 * disc_volume_mL(outline), rel=1e-6
    )


def test_a_cone_is_a_third_of_its_base_times_its_height() -> None:
    cone = [(-1.0, 0.0), (0.0, 4.0), (1.0, 0.0)]
    assert disc_volume_mL(cone) == pytest.approx(pi * 4 / 3, rel=1e-3)  # Euclid XII.10


def test_the_long_axis_runs_from_the_middle_of_the_annulus_to_the_apex() -> None:
    axis = long_axis(half_ellipse(2.0, 7.0))
    assert axis.base == pytest.approx((0.0, 0.0), abs=1e-9)
    assert axis.apex == pytest.approx((0.0, 7.0), abs=1e-9)
    assert axis.length == pytest.approx(7.0)


def test_an_outline_of_one_place_has_no_axis() -> None:
    with pytest.raises(NotMeasurable, match="coincide"):
        long_axis([(1.0, 1.0)] * 5)
