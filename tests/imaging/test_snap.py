"""Grey along lines and the interfaces near a point, on pictures whose edges are known."""

import numpy as np
import pytest

from tableside.errors import NotMeasurable
from tableside.imaging.line_profile import grey_along, line_samples
from tableside.imaging.snap import snap
from tableside.imaging.types import Floats, Pixels

WIDTH_PX = 0.8


def edge(at: float, angle_deg: float = 0.0) -> Pixels:
    """Return a picture that is dark above a straight soft edge through (60, at)."""
    y, x = np.mgrid[0:120, 0:120].astype(float)
    turn = np.deg2rad(angle_deg)
    depth = (y - at) * np.cos(turn) - (x - 60) * np.sin(turn)
    return np.asarray(np.rint(200 / (1 + np.exp(-depth / WIDTH_PX))), np.uint8)


@pytest.mark.parametrize("at", [50.0, 50.2, 50.5, 50.75])
def test_a_level_edge_is_found_to_a_twentieth_of_a_pixel(at: float) -> None:
    found = snap(edge(at), (60.0, 54.0), (0.0, 1.0))
    assert found.nearest == pytest.approx((60.0, at), abs=0.05)
    assert found.rising == found.nearest
    assert found.falling is None


@pytest.mark.parametrize("angle_deg", [10.0, 30.0, -25.0])
def test_an_oblique_edge_is_found_along_its_normal(angle_deg: float) -> None:
    turn = np.deg2rad(angle_deg)
    along = (-float(np.sin(turn)), float(np.cos(turn)))
    start = (60 + 3 * along[0], 50.3 + 3 * along[1])
    x, y = snap(edge(50.3, angle_deg), start, along).nearest
    off = (y - 50.3) * np.cos(turn) - (x - 60) * np.sin(turn)
    assert abs(off) < 0.1


def test_seen_from_the_other_side_it_falls() -> None:
    found = snap(edge(50.3), (60.0, 47.0), (0.0, -1.0))
    assert found.rising is None
    assert found.falling == pytest.approx((60.0, 50.3), abs=0.05)


def test_a_step_gives_its_own_height() -> None:
    picture = np.zeros((60, 60), np.uint8)
    picture[30:] = 120
    assert snap(picture, (30.0, 30.0), (0.0, 1.0)).contrast == pytest.approx(120, rel=0.05)


def test_an_even_picture_has_no_edge() -> None:
    with pytest.raises(NotMeasurable, match="no edge within 12 pixels"):
        snap(np.full((60, 60), 90, np.uint8), (30.0, 30.0), (0.0, 1.0))


def test_a_caliper_without_length_has_no_direction() -> None:
    with pytest.raises(NotMeasurable, match="pull them apart"):
        snap(edge(50.0), (60.0, 50.0), (0.0, 0.0))


def test_grey_between_pixels_is_bilinear() -> None:
    """On a plane, interpolation between neighbours is exact."""
    y, x = np.mgrid[0:40, 0:40]
    plane = (2 * x + 3 * y).astype(np.uint8)
    points: Floats = np.array([[3.25, 7.5], [10.0, 2.75], [0.5, 0.5]])
    assert grey_along(plane, points) == pytest.approx(2 * points[:, 0] + 3 * points[:, 1])


def test_a_line_has_a_sample_a_pixel_and_both_ends() -> None:
    samples = line_samples((10.0, 20.0), (40.0, 60.0))
    assert len(samples) == 51  # 3-4-5: 50 pixels long
    assert (samples[0].tolist(), samples[-1].tolist()) == ([10.0, 20.0], [40.0, 60.0])


def test_a_line_too_short_is_refused() -> None:
    with pytest.raises(NotMeasurable, match="shorter than two pixels"):
        line_samples((10.0, 20.0), (11.0, 20.0))
