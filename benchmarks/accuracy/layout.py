"""A tracing put on a screen: margins, ruler, text, an ECG in any colour and place, JPEG."""

from dataclasses import dataclass

import numpy as np
from PIL import Image as Picture
from PIL import ImageDraw, ImageFont

from benchmarks.accuracy.case import Floats, Pixels
from tableside.model import Axis, Image, Mode, Region, RegionKind
from tableside.phantom.ecg import EcgStyle, draw_line, electrocardiogram
from tableside.phantom.rhythm import HeartBeat
from tableside.phantom.speckle import through_jpeg

LEFT, TOP, RIGHT, STRIP = 34, 44, 70, 66
WORDS = (216, 220, 226)
COLOURS = {
    "green": (96, 232, 96),
    "yellow": (238, 226, 70),
    "cyan": (70, 220, 232),
    "magenta": (232, 90, 220),
    "red": (240, 70, 60),
    "blue": (90, 140, 250),
    "white": (235, 235, 235),
}
# where the line's rest lies, as a share of the height of the tracing
PLACES = {"below": 0.94, "across": 0.55, "above": 0.14}


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How the screen is laid out. ``ecg`` is below, across, above, strip or absent."""

    ecg: str
    colour: str
    words: bool
    jpeg: int | None
    label: str
    mmode: str | None = None
    flow: str | None = None
    wave: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A bare tracing: its pixels, scales, where zero lies, and its beats."""

    pixels: Pixels
    s_per_column: float
    per_row: float
    unit: str
    origin_row: float
    beats: tuple[HeartBeat, ...]
    seed: int

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.pixels.shape[0], self.pixels.shape[1]


def lay_out(strip: Strip, look: Look) -> tuple[Image, Pixels]:
    """Return the image record and its pixels; the tracing begins at (LEFT, TOP)."""
    rows, columns = strip.shape
    height = TOP + rows + 30 + (STRIP if look.ecg == "strip" else 0)
    page = Picture.new("RGB", (LEFT + columns + RIGHT, height))
    grey = np.repeat(strip.pixels[..., None], 3, axis=2)
    page.paste(Picture.fromarray(grey), (LEFT, TOP))
    pen = ImageDraw.Draw(page)
    _ruler(pen, strip)
    _second_marks(pen, strip)
    _words(pen, strip, look)
    pixels = np.asarray(page, dtype=np.uint8)
    pixels = _with_ecg(pixels, strip, look)
    pixels = through_jpeg(pixels, look.jpeg)
    image = Image(
        file="tracing.dcm",
        mode=Mode.SPECTRAL if look.flow else Mode.M_MODE,
        rows=pixels.shape[0],
        columns=pixels.shape[1],
        mmode=look.mmode,
        flow=look.flow,
        regions=_regions(strip, look),
    )
    return image, pixels


def _regions(strip: Strip, look: Look) -> tuple[Region, ...]:
    rows, columns = strip.shape
    seconds = Axis(unit="s", per_pixel=strip.s_per_column, origin_px=LEFT)
    sign = -1 if look.flow else 1
    tracing = Region(
        index=0,
        kind=RegionKind.SPECTRAL if look.flow else RegionKind.M_MODE,
        box=(LEFT, TOP, LEFT + columns - 1, TOP + rows - 1),
        x=seconds,
        y=Axis(
            unit=strip.unit, per_pixel=sign * strip.per_row, origin_px=TOP + strip.origin_row
        ),
        wave=look.wave,
    )
    if look.ecg != "strip":
        return (tracing,)
    top = TOP + rows + 28
    box = (LEFT, top, LEFT + columns - 1, top + STRIP - 1)
    return tracing, Region(index=1, kind=RegionKind.ECG, box=box, x=seconds)


def _with_ecg(pixels: Pixels, strip: Strip, look: Look) -> Pixels:
    """Draw the line inside the columns of the tracing."""
    if look.ecg == "absent":
        return pixels
    rows, columns = strip.shape
    rng = np.random.default_rng(strip.seed + 77)
    height = STRIP if look.ecg == "strip" else rows
    style = EcgStyle(
        colour=COLOURS[look.colour],
        width_px=float(rng.uniform(1.0, 2.2)),
        amplitude_px=float(np.clip(0.07 * height * rng.uniform(0.7, 1.6), 9, 60)),
        noise=float(rng.choice([0.006, 0.012, 0.03])),
    )
    time_s = np.arange(columns, dtype=np.float64) * strip.s_per_column
    volts = electrocardiogram(time_s, strip.beats, rng, style)
    rest = TOP + rows + 28 + 0.7 * STRIP if look.ecg == "strip" else None
    line = (
        TOP + PLACES[look.ecg] * rows if rest is None else rest
    ) - style.amplitude_px * volts
    line = np.minimum(line, pixels.shape[0] - 2.0)
    drawn = pixels.copy()
    part = slice(LEFT, LEFT + columns)
    drawn[:, part] = draw_line(np.ascontiguousarray(drawn[:, part]), line, style)
    return drawn


def _ruler(pen: ImageDraw.ImageDraw, strip: Strip) -> None:
    """Mark round steps of depth or velocity to the right of the tracing."""
    rows, columns = strip.shape
    step = _step(rows * strip.per_row)
    right = LEFT + columns + 3
    for count in range(-40, 41):
        row = strip.origin_row - count * step / strip.per_row
        if 0 <= row < rows:
            y = TOP + round(row)
            pen.line((right, y, right + (8 if count % 5 == 0 else 4), y), fill=WORDS)


def _step(extent: float) -> float:
    steps = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0)
    return next((step for step in steps if extent / step <= 16), steps[-1])


def _second_marks(pen: ImageDraw.ImageDraw, strip: Strip) -> None:
    rows, columns = strip.shape
    for count in range(int(columns * strip.s_per_column * 5) + 1):
        x = LEFT + columns - 1 - round(count / 5 / strip.s_per_column)
        y = TOP + rows + 3
        pen.line((x, y, x, y + (7 if count % 5 == 0 else 4)), fill=WORDS)


def _words(pen: ImageDraw.ImageDraw, strip: Strip, look: Look) -> None:
    font = ImageFont.load_default(12)
    pen.text((10, 10), look.label, font=font, fill=WORDS)
    if not look.words:
        return
    rows, columns = strip.shape
    pen.text((LEFT + 6, TOP + 4), "5.0 MHz  G 62  50 mm/s", font=font, fill=WORDS)
    pen.text((LEFT + columns - 66, TOP + rows - 18), "112/min", font=font, fill=WORDS)
    for row in np.arange(0, rows, rows / 8):
        y = TOP + round(float(row))
        pen.line((LEFT + columns - 6, y, LEFT + columns - 3, y), fill=WORDS)


def grey_step(
    pixels: Pixels, row: Floats, columns: Floats, reach_px: float, *, falls: bool = False
) -> float:
    """Return how much brighter the far side of an edge is, the median over columns.

    ``row`` is the true edge, one a column of ``pixels``; ``falls`` for an edge from bright to
    dark.
    """
    reach = max(2, round(reach_px))
    steps = []
    for column in columns:
        part = slice(max(0, round(column) - 2), round(column) + 3)
        at = round(float(row[min(len(row) - 1, max(0, round(column)))]))
        before, after = pixels[max(0, at - reach) : at, part], pixels[at : at + reach, part]
        if before.size and after.size:
            steps.append(float(after.mean()) - float(before.mean()))
    step = float(np.median(steps)) if steps else 0.0
    return -step if falls else step
