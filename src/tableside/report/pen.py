"""Drawing on a frame: lines with a halo, end bars, names on plates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from io import BytesIO
from itertools import pairwise
from math import hypot
from typing import TYPE_CHECKING, Any

from tableside.model import Box, Point

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Pixels = NDArray[np.uint8]  # (rows, columns) grey or (rows, columns, 3) RGB


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureOptions:
    """How pictures are drawn. Change these, not the code.

    The two colours are told apart by people with any colour vision (Okabe and Ito, 2008), and
    by shape: only calipers end in bars.
    """

    pictures: int = 6  # more would bury the letter
    width_px: int = 1000  # of the drawn picture
    enlarge: float = 3.0  # at most; a small region stays small
    margin_px: int = 6  # kept around the region
    trace: str = "#56B4E9"
    caliper: str = "#F0E442"
    unused: str = "#C8C8C8"
    halo: str = "#101418"
    line_px: int = 3
    label_px: int = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One line on a frame; ``kind`` is trace, caliper or unused."""

    kind: str
    points: tuple[Point, ...]
    label: str | None = None


def paint(
    pixels: Pixels, marks: Sequence[Mark], box: Box, options: PictureOptions
) -> tuple[bytes, int, int]:
    """Draw marks on a part of a frame; return PNG bytes with their columns and rows.

    Parameters
    ----------
    pixels : (rows, columns) or (rows, columns, 3) of uint8
    marks : sequence of Mark
        In pixel centres of the frame.
    box : Box
        The part to show: left, top, right, bottom, inclusive.
    options : PictureOptions
    """
    from PIL import Image as Picture  # noqa: PLC0415
    from PIL import ImageDraw  # noqa: PLC0415

    left, top, right, bottom = box
    part = Picture.fromarray(pixels[top : bottom + 1, left : right + 1]).convert("RGB")
    scale = min(options.enlarge, options.width_px / part.width)
    size = (round(part.width * scale), round(part.height * scale))
    canvas = part.resize(size, Picture.Resampling.LANCZOS)
    pen = Pen(ImageDraw.Draw(canvas), (left, top), scale, options)
    for mark in marks:
        pen.draw(mark)
    for mark in marks:  # names last: no line runs through them
        pen.name(mark)
    if not _is_coloured(pixels):  # a palette keeps grey as it is, in a third of the bytes
        canvas = canvas.quantize(256, method=Picture.Quantize.FASTOCTREE)
    written = BytesIO()
    canvas.save(written, "PNG", compress_level=3)  # a third of the time of 6, a tenth larger
    return written.getvalue(), *size


def _is_coloured(pixels: Pixels) -> bool:
    """Return whether more than a twentieth of the picture is coloured, as flow is."""
    if pixels.ndim == 2:
        return False
    some = pixels[::4, ::4]
    return bool(((some.max(axis=2) - some.min(axis=2)) > 24).mean() > 0.05)


@dataclass(frozen=True, slots=True)
class Pen:
    """Draws marks with a dark halo, so that they stand out on white and on black."""

    draw_on: Any
    origin: tuple[int, int]
    scale: float
    options: PictureOptions
    plates: list[tuple[float, float, float, float]] = field(default_factory=list)

    def draw(self, mark: Mark) -> None:
        """Draw one mark with its bars."""
        points, colour = self._points(mark), self._colour(mark)
        if len(points) == 1:
            self._cross(points[0], colour)
        elif mark.kind == "unused":
            self._broken_line(points, colour)
        else:
            self._line(points, colour)
        if mark.kind != "trace" and len(points) == 2:
            self._bars(points, colour)

    def name(self, mark: Mark) -> None:
        """Write the name of a mark, where it has one."""
        if mark.label:
            self._write(mark.label, self._points(mark), self._colour(mark))

    def _colour(self, mark: Mark) -> str:
        chosen = self.options
        return {
            "trace": chosen.trace,
            "caliper": chosen.caliper,
            "unused": chosen.unused,
        }[mark.kind]

    def _points(self, mark: Mark) -> list[Point]:
        return [self._place(point) for point in mark.points]

    def _place(self, point: Point) -> Point:
        """Return the middle of a pixel on the enlarged canvas."""
        return tuple(  # type: ignore[return-value]
            (value - start + 0.5) * self.scale
            for value, start in zip(point, self.origin, strict=True)
        )

    def _line(self, points: Sequence[Point], colour: str) -> None:
        width = self.options.line_px
        self.draw_on.line(points, fill=self.options.halo, width=width + 4, joint="curve")
        self.draw_on.line(points, fill=colour, width=width, joint="curve")

    def _broken_line(self, points: Sequence[Point], colour: str) -> None:
        for (x0, y0), (x1, y1) in pairwise(points):
            pieces = max(1, round(hypot(x1 - x0, y1 - y0) / (10 * self.options.line_px)))
            for i in range(pieces):
                a, b = i / pieces, (i + 0.5) / pieces
                start = (x0 + (x1 - x0) * a, y0 + (y1 - y0) * a)
                self._line([start, (x0 + (x1 - x0) * b, y0 + (y1 - y0) * b)], colour)

    def _cross(self, point: Point, colour: str) -> None:
        x, y = point
        arm = 4 * self.options.line_px
        self._line([(x - arm, y), (x + arm, y)], colour)
        self._line([(x, y - arm), (x, y + arm)], colour)

    def _bars(self, points: Sequence[Point], colour: str) -> None:
        (x0, y0), (x1, y1) = points
        length = hypot(x1 - x0, y1 - y0) or 1.0
        arm = 3.5 * self.options.line_px
        dx, dy = -(y1 - y0) / length * arm, (x1 - x0) / length * arm
        for x, y in points:
            self._line([(x - dx, y - dy), (x + dx, y + dy)], colour)

    def _write(self, label: str, points: Sequence[Point], colour: str) -> None:
        """Put the name beside the middle of the line, on a dark plate, inside the picture."""
        font = _font(self.options.label_px)
        x = sum(point[0] for point in points) / len(points) + 5 * self.options.line_px
        y = sum(point[1] for point in points) / len(points)
        left, top, right, bottom = self.draw_on.textbbox((x, y), label, font=font, anchor="lm")
        plate = self._free_place((left - 5, top - 4, right + 5, bottom + 4))
        self.plates.append(plate)
        self.draw_on.rounded_rectangle(plate, radius=4, fill=self.options.halo)
        at = (plate[0] + 5 + x - left, plate[1] + 4 + y - top)
        self.draw_on.text(at, label, font=font, fill=colour, anchor="lm")

    def _free_place(
        self, plate: tuple[float, float, float, float]
    ) -> tuple[float, float, float, float]:
        """Return the plate moved into the picture, and down until it covers no other."""
        width, height = self.draw_on.im.size
        left, top, right, bottom = plate
        dx = min(0.0, width - 4 - right)
        dy = max(0.0, 4 - top) + min(0.0, height - 4 - bottom)
        moved = (left + dx, top + dy, right + dx, bottom + dy)
        for other in self.plates:
            if _overlap(moved, other):
                down = other[3] + 3 - moved[1]
                moved = (moved[0], moved[1] + down, moved[2], moved[3] + down)
        return moved


def _overlap(
    one: tuple[float, float, float, float], other: tuple[float, float, float, float]
) -> bool:
    apart = one[2] < other[0] or other[2] < one[0] or one[3] < other[1] or other[3] < one[1]
    return not apart


def _font(size_px: int) -> Any:
    from PIL import ImageFont  # noqa: PLC0415

    path = files("tableside") / "report" / "fonts" / "SourceSans3_600SemiBold.ttf"
    return ImageFont.truetype(BytesIO(path.read_bytes()), size_px)
