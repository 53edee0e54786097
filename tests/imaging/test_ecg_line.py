"""The ECG line in a picture. Truth: where the phantom drew it."""

import numpy as np
import pytest

from tableside.errors import NotMeasurable
from tableside.imaging.ecg import trace_ecg
from tableside.imaging.types import Pixels
from tableside.phantom.ecg import EcgStyle, draw_line

WIDTH, HEIGHT = 600, 100


def strip(colour: tuple[int, int, int], seed: int) -> tuple[Pixels, np.ndarray]:
    rng = np.random.default_rng(seed)
    grey = np.clip(rng.rayleigh(35, (HEIGHT, WIDTH)), 0, 255).astype(np.uint8)
    columns = np.arange(WIDTH)
    rows = np.full(WIDTH, 70.0)
    for at in (80, 220, 365, 510):
        rows -= 40 * np.exp(-0.5 * ((columns - at) / 2.2) ** 2)
        rows -= 6 * np.exp(-0.5 * ((columns - at - 45) / 10) ** 2)
    picture = np.repeat(grey[..., None], 3, axis=2)
    return draw_line(picture, rows, EcgStyle(colour=colour)), rows


@pytest.mark.parametrize(
    "colour", [(90, 255, 60), (25, 180, 160), (250, 220, 40), (240, 60, 60)]
)
def test_the_line_is_followed_in_any_colour(colour: tuple[int, int, int]) -> None:
    picture, rows = strip(colour, seed=21)
    line = trace_ecg(picture)
    flat = np.abs(np.gradient(rows)) < 0.5
    assert np.median(np.abs(line.row - rows)[flat]) < 0.5
    for at in (80, 220, 365, 510):
        assert line.row[at] == pytest.approx(rows[at], abs=2.0)


def test_a_straight_axis_in_another_colour_does_not_win() -> None:
    picture, rows = strip((90, 255, 60), seed=22)
    picture[85] = (220, 200, 90)
    line = trace_ecg(picture)
    assert line.row[220] == pytest.approx(rows[220], abs=2.0)


def test_a_sweep_bar_breaks_the_sweep() -> None:
    picture, _ = strip((90, 255, 60), seed=23)
    picture[:, 300:304] = (90, 255, 60)
    assert any(298 <= at <= 306 for at in trace_ecg(picture).breaks)


def test_a_flat_line_is_said_to_be_flat() -> None:
    picture = np.zeros((HEIGHT, WIDTH, 3), np.uint8)
    picture[60] = (0, 255, 30)
    with pytest.raises(NotMeasurable, match="flat"):
        trace_ecg(picture)


def test_a_picture_without_a_line_says_so() -> None:
    rng = np.random.default_rng(5)
    grey = rng.integers(0, 200, (HEIGHT, WIDTH, 1)).astype(np.uint8)
    with pytest.raises(NotMeasurable, match="no electrocardiogram"):
        trace_ecg(np.repeat(grey, 3, axis=2))
