"""A whole ultrasound screen: pictures, rulers and text on black, with its calibrated regions.

The look is a plain one of our own; the ruler ticks, the velocity and depth numbers and the
second marks are what any machine shows.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from tableside.model import Axis, Box, Region, RegionKind
from tableside.phantom.doppler import DopplerPhantom
from tableside.phantom.mmode_spec import MModePhantom
from tableside.phantom.sector import Sector
from tableside.phantom.types import Pixels

TEXT = (214, 219, 226)
DIM = (138, 147, 160)
STILL = (600, 800)
CINE = (480, 640)
STRIP_LEFT, STRIP_TOP = 30, 262
STRIP_ROWS, STRIP_COLUMNS = 300, 700
SMALL_LEFT, SMALL_TOP = 270, 34
CINE_LEFT, CINE_TOP = 80, 34
ECG_TOP, ECG_ROWS = 438, 38
TICK_PX = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """One still or one clip as it is stored, (frames, rows, columns, 3), and its regions."""

    frames: Pixels
    regions: tuple[Region, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Captions:
    """What is written: the head line left and right, and lines beside the picture."""

    left: str
    right: str
    beside: Sequence[str] = field(default_factory=tuple)


@cache
def _font(size_px: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    return ImageFont.load_default(size_px)


class _Page:
    """A screen being drawn."""

    def __init__(self, shape: tuple[int, int]) -> None:
        self.image = Image.new("RGB", (shape[1], shape[0]))
        self._draw = ImageDraw.Draw(self.image)

    def text(self, x: float, y: float, words: str, **style: str) -> None:
        """Write one line; ``anchor`` as in Pillow."""
        self._draw.text(
            (x, y), words, font=_font(12), fill=TEXT, anchor=style.get("anchor", "lt")
        )

    def line(self, ends: tuple[float, float, float, float]) -> None:
        """Draw a ruler tick or frame line."""
        self._draw.line(ends, fill=DIM)

    def paste(self, pixels: Pixels, left: int, top: int) -> None:
        """Put a picture down."""
        picture = pixels if pixels.ndim == 3 else np.repeat(pixels[..., None], 3, axis=2)
        self.image.paste(Image.fromarray(picture), (left, top))

    def captions(self, captions: Captions) -> None:
        """Write the head line and the lines beside the picture."""
        width = self.image.width
        self.text(10, 8, captions.left)
        self.text(width - 10, 8, captions.right, anchor="rt")
        self.line((0, 26, width, 26))
        for number, words in enumerate(captions.beside):
            self.text(12, 46 + 18 * number, words)

    def array(self) -> Pixels:
        """Return what was drawn."""
        return np.asarray(self.image, dtype=np.uint8)


def mmode_screen(
    tracing: MModePhantom, small: tuple[Pixels, Sector], captions: Captions
) -> Screen:
    """Return a still of an M-mode under its small picture, the line of sight marked on it."""
    page, pictured = _still(small, captions)
    page.paste(tracing.pixels, STRIP_LEFT, STRIP_TOP)
    box = _strip_box(tracing.pixels)
    rows = box[3] - box[1] - tracing.skin_row
    for depth_cm in range(int(rows * tracing.cm_per_row) + 1):
        y = box[1] + tracing.skin_row + depth_cm / tracing.cm_per_row
        _tick(page, box[2], y, str(depth_cm) if depth_cm % 2 == 0 else "")
    page.text(box[2] + 10, box[1] - 14, "cm")
    _second_marks(page, box, tracing.s_per_column)
    region = Region(
        index=1,
        kind=RegionKind.M_MODE,
        box=box,
        x=Axis(unit="s", per_pixel=tracing.s_per_column, origin_px=box[0]),
        y=Axis(
            unit="cm",
            per_pixel=tracing.cm_per_row,
            origin_px=box[1] + round(tracing.skin_row),
        ),
    )
    return Screen(frames=page.array()[None], regions=(pictured, region))


def doppler_screen(
    tracing: DopplerPhantom, small: tuple[Pixels, Sector], captions: Captions, wave: str
) -> Screen:
    """Return a still of a spectrum under its small picture."""
    page, pictured = _still(small, captions)
    page.paste(tracing.pixels, STRIP_LEFT, STRIP_TOP)
    box = _strip_box(tracing.pixels)
    baseline = box[1] + tracing.baseline_row
    step_m_s = _round_step((box[3] - box[1]) * tracing.m_s_per_row)
    for count in range(-12, 13):
        y = baseline - count * step_m_s / tracing.m_s_per_row
        if box[1] <= y <= box[3]:
            _tick(page, box[2], y, f"{count * step_m_s * 100:+.0f}" if count else "cm/s")
    _second_marks(page, box, tracing.s_per_column)
    region = Region(
        index=1,
        kind=RegionKind.SPECTRAL,
        box=box,
        x=Axis(unit="s", per_pixel=tracing.s_per_column, origin_px=box[0]),
        y=Axis(unit="m/s", per_pixel=-tracing.m_s_per_row, origin_px=baseline),
        wave=wave,
    )
    return Screen(frames=page.array()[None], regions=(pictured, region))


def cine_screen(
    frames: Pixels, sector: Sector, ecg: Sequence[Pixels], captions: Captions
) -> Screen:
    """Return a clip: the fan with a depth ruler, and the ECG growing below it.

    ``ecg`` holds one picture (rows, columns, 3) a frame, drawn so far as time has run.
    """
    page = _Page(CINE)
    page.captions(captions)
    right = CINE_LEFT + sector.columns
    for depth_cm in range(int(sector.depth_cm) + 1):
        y = CINE_TOP + sector.tip_row + depth_cm / sector.cm_per_px
        _tick(page, right, y, str(depth_cm) if depth_cm % 5 == 0 else "")
    still = page.array()
    clip = np.repeat(still[None], len(frames), axis=0)
    rows, columns = frames.shape[1:3]
    clip[:, CINE_TOP : CINE_TOP + rows, CINE_LEFT : CINE_LEFT + columns] = frames[..., None]
    for number, strip in enumerate(ecg):
        clip[number, ECG_TOP : ECG_TOP + ECG_ROWS, CINE_LEFT : CINE_LEFT + columns] = strip
    return Screen(frames=clip, regions=(_fan_region(sector, CINE_LEFT, CINE_TOP),))


def _still(small: tuple[Pixels, Sector], captions: Captions) -> tuple[_Page, Region]:
    pixels, sector = small
    page = _Page(STILL)
    page.captions(captions)
    page.paste(pixels, SMALL_LEFT, SMALL_TOP)
    right = SMALL_LEFT + sector.columns
    for depth_cm in range(int(sector.depth_cm) + 1):
        y = SMALL_TOP + sector.tip_row + depth_cm / sector.cm_per_px
        _tick(page, right, y, str(depth_cm) if depth_cm % 5 == 0 else "")
    x = SMALL_LEFT + sector.tip_column
    for y in range(SMALL_TOP + 12, SMALL_TOP + sector.rows - 4, 7):
        page.line((x, y, x, y + 1))
    return page, _fan_region(sector, SMALL_LEFT, SMALL_TOP)


def _fan_region(sector: Sector, left: int, top: int) -> Region:
    return Region(
        index=0,
        kind=RegionKind.TWO_D,
        box=(left, top, left + sector.columns - 1, top + sector.rows - 1),
        x=Axis(unit="cm", per_pixel=sector.cm_per_px, origin_px=left + sector.tip_column),
        y=Axis(unit="cm", per_pixel=sector.cm_per_px, origin_px=top + sector.tip_row),
    )


def _strip_box(pixels: Pixels) -> Box:
    rows, columns = pixels.shape[:2]
    return STRIP_LEFT, STRIP_TOP, STRIP_LEFT + columns - 1, STRIP_TOP + rows - 1


def _tick(page: _Page, right: int, y: float, words: str) -> None:
    length = TICK_PX if words else TICK_PX - 3
    page.line((right + 2, round(y), right + 1 + length, round(y)))
    if words:
        page.text(right + 12, round(y), words, anchor="lm")


def _second_marks(page: _Page, box: Box, s_per_column: float) -> None:
    """Mark fifths of a second below a strip, counted back from its right edge."""
    page.line((box[0], box[3] + 2, box[2], box[3] + 2))
    for count in range(int((box[2] - box[0]) * s_per_column * 5) + 1):
        x = round(box[2] - count / 5 / s_per_column)
        whole = count % 5 == 0
        page.line((x, box[3] + 2, x, box[3] + (9 if whole else 5)))
        if whole:
            page.text(x, box[3] + 13, f"{-count // 5} s" if count else "0", anchor="mt")


def _round_step(range_m_s: float) -> float:
    """Return a round step that divides a velocity range into five to ten."""
    steps = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0)
    return next((step for step in steps if range_m_s / step <= 10), steps[-1])
