"""Rulers: those on the screens of real machines, and drawn ones of known spacing."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydicom.data import get_testdata_file

from tableside.errors import NotMeasurable
from tableside.imaging.ruler import Ruler, find_rulers
from tableside.intake import open_study
from tableside.model import Box

BOX: Box = (100, 40, 499, 439)


def screen(seed: int = 0) -> np.ndarray:
    """Return 480 rows of black with a speckled picture in the box."""
    pixels = np.zeros((480, 640), np.uint8)
    left, top, right, bottom = BOX
    speckle = np.random.default_rng(seed).rayleigh(35, (bottom - top + 1, right - left - 79))
    pixels[top : bottom + 1, left + 40 : right - 39] = speckle.clip(0, 255)
    return pixels


def with_ticks(pixels: np.ndarray, gap: float, column: int = 510, width: int = 6) -> np.ndarray:
    rows = np.round(np.arange(BOX[1], BOX[3], gap)).astype(int)
    for row in rows:
        pixels[row, column : column + width] = 220
    return pixels


@settings(deadline=None, max_examples=40)
@given(gap=st.floats(7.0, 60.0), seed=st.integers(0, 50))
def test_ticks_are_found_with_their_spacing(gap: float, seed: int) -> None:
    (found,) = find_rulers(with_ticks(screen(seed), gap), BOX)
    assert abs(found.spacing_px - gap) < max(4 * found.spacing_sd_px, 0.02)
    assert found.spacing_sd_px / gap < 0.01
    assert found.marks == len(np.arange(BOX[1], BOX[3], gap))


def test_dots_of_two_pixels_in_colour_are_a_ruler() -> None:
    pixels = np.repeat(screen()[..., None], 3, axis=2)
    for row in range(BOX[1], BOX[3], 25):
        pixels[row : row + 2, 110:112] = (0, 200, 255)
    (found,) = find_rulers(pixels, BOX)
    assert found.spacing_px == pytest.approx(25.0, abs=0.05)
    assert found.line_px in (110, 111)


def test_a_ruler_of_time_runs_across() -> None:
    pixels = with_ticks(np.zeros((480, 640), np.uint8), 31.0).T.copy()
    box = (BOX[1], BOX[0], BOX[3], BOX[2])
    (found,) = find_rulers(pixels, box, "across")
    assert found.spacing_px == pytest.approx(31.0, abs=0.05)
    with pytest.raises(NotMeasurable):
        find_rulers(pixels, box, "down")


def test_a_hidden_mark_and_a_label_do_not_hide_the_ruler() -> None:
    pixels = with_ticks(screen(), 15.0)
    pixels[BOX[1] + 105, 505:520] = 0  # one mark is covered
    pixels[BOX[1] + 51 : BOX[1] + 54, 505:520] = 200  # the focus marker
    (found,) = find_rulers(pixels, BOX)
    assert found.spacing_px == pytest.approx(15.0, abs=0.05)


def grey_bar(pixels: np.ndarray) -> None:
    for step in range(16):
        top = BOX[1] + 20 * step
        pixels[top : top + 20, 520:540] = 255 - 16 * step


def writing(pixels: np.ndarray) -> None:
    """Lines of letters as bars: three strokes each, evenly spaced as lines of text are."""
    for line in range(14):
        for stroke in (0, 5, 10):
            top = BOX[1] + 24 * line + stroke
            pixels[top : top + 2, 520:560] = 230


def dotted_cursor(pixels: np.ndarray) -> None:
    pixels[BOX[1] : BOX[3] : 13, 300:302] = 220  # in the middle of the picture


def few_marks(pixels: np.ndarray) -> None:
    pixels[BOX[1] : BOX[1] + 100 : 20, 510:516] = 220


def uneven_marks(pixels: np.ndarray) -> None:
    """Marks of a logarithmic scale."""
    rows = (BOX[1] + 390 * np.log10(np.arange(1, 11))).astype(int)
    pixels[rows, 510:516] = 220


def one_pixel_line(pixels: np.ndarray) -> None:
    pixels[BOX[1] : BOX[3] : 20, 510] = 220  # no mark is one pixel wide


@pytest.mark.parametrize(
    "drawn", [grey_bar, writing, dotted_cursor, few_marks, uneven_marks, one_pixel_line]
)
def test_what_is_no_ruler_is_not_taken_for_one(drawn) -> None:
    pixels = screen()
    drawn(pixels)
    with pytest.raises(NotMeasurable, match="no ruler"):
        find_rulers(pixels, BOX)


@pytest.mark.parametrize("seed", range(30))
def test_speckle_alone_is_never_a_ruler(seed: int) -> None:
    pixels = np.random.default_rng(seed).rayleigh(50, (480, 640)).clip(0, 255).astype(np.uint8)
    with pytest.raises(NotMeasurable):
        find_rulers(pixels, BOX)


def rulers(path: Path, index: int, way="down") -> tuple[Ruler, ...]:
    with open_study(path) as opened:
        image = opened.study.images[0]
        return find_rulers(opened.frame(image.file), image.regions[index].box, way)


# Gaps that are printed on the screens, with the header's scale; one mark is a centimetre
# unless said otherwise (labels beside the ruler).


@pytest.mark.parametrize(
    ("name", "index", "per_px", "marks"),
    [
        ("human-echo/I_000031.dcm", 0, 0.032407, 15),
        ("human-echo/I_000036.dcm", 0, 0.039352, 18),
        ("human-echo/I_000034.dcm", 1, 0.053232, 14),
    ],
)
def test_a_centimetre_on_the_screen_is_one_by_the_header(
    shared_data: Path, name: str, index: int, per_px: float, marks: int
) -> None:
    found = rulers(shared_data / name, index)[0]
    assert found.marks == marks
    assert found.spacing_px * per_px == pytest.approx(1.0, abs=0.002)


def test_the_velocity_ruler_of_a_tissue_spectrum(shared_data: Path) -> None:
    """I_000038: 0 and +20 cm/s are printed at rows 352 and 240; eight marks apart."""
    found = rulers(shared_data / "human-echo" / "I_000038.dcm", 2)[0]
    assert found.spacing_px * 8 == pytest.approx(352 - 240, abs=1)


def test_the_time_ruler_of_a_tissue_spectrum(shared_data: Path) -> None:
    """I_000038 prints -2 and -1 s, five marks apart; the header says 4.1667 ms a column."""
    found = rulers(shared_data / "human-echo" / "I_000038.dcm", 2, "across")[0]
    assert found.spacing_px * 0.004166667 == pytest.approx(0.2, abs=0.001)


def test_both_rulers_of_the_pig(shared_data: Path) -> None:
    """Marks at every quarter and every whole centimetre; 0 to 6 cm are printed."""
    quarter, whole = rulers(shared_data / "pig-mmode" / "vivid7_pig_colour_mmode.dcm", 1)
    assert quarter.spacing_px * 4 == pytest.approx(whole.spacing_px, rel=0.005)


def test_the_eighteen_centimetres_of_a_clip() -> None:
    """pydicom-data color3d_jpeg_baseline: the whole ruler is 18 cm."""
    path = get_testdata_file("color3d_jpeg_baseline.dcm")
    assert isinstance(path, str)
    (found,) = rulers(Path(path), 0)
    assert found.marks == 19
    assert found.span_px * 0.0510497 == pytest.approx(18.0, abs=0.05)
