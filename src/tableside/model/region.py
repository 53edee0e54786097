"""A calibrated part of an image: pixels to centimetres, seconds and m/s, and back.

Pixel centres are integers, x to the right, y down, from 0. Signs follow one rule whatever
the file says: time grows to the right, depth grows downwards, velocity grows upwards.

Source: DICOM PS3.3 C.8.5.5 (US Region Calibration Module).
"""

from dataclasses import dataclass
from enum import StrEnum
from math import hypot

from tableside.errors import NotMeasurable

Point = tuple[float, float]
Box = tuple[int, int, int, int]


class RegionKind(StrEnum):
    """What a region shows."""

    TWO_D = "2-d"
    COLOUR = "colour"
    M_MODE = "m-mode"
    COLOUR_M_MODE = "colour m-mode"
    SPECTRAL = "spectral doppler"
    ECG = "ecg"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One calibrated direction of a region.

    ``value = origin + (pixel - origin_px) * per_pixel``; ``per_pixel`` keeps its sign.
    ``relative_sd`` is the standard deviation of the scale as a share of it.
    """

    unit: str
    per_pixel: float
    origin_px: float = 0.0
    origin: float = 0.0
    relative_sd: float = 0.005

    def value_at(self, pixel: float) -> float:
        """Return the physical value at a pixel coordinate."""
        return self.origin + (pixel - self.origin_px) * self.per_pixel

    def pixel_at(self, value: float) -> float:
        """Return the pixel coordinate of a physical value."""
        return self.origin_px + (value - self.origin) / self.per_pixel

    def span(self, one_px: float, other_px: float) -> float:
        """Return the size, without sign, between two pixel coordinates."""
        return abs((other_px - one_px) * self.per_pixel)


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """One rectangle of an image with its scales.

    ``box`` is left, top, right, bottom, inclusive. An axis is None where the file gives no
    scale for it. ``source`` says where the scale came from: ``dicom``, ``worksheet`` or
    ``ruler``. ``doubt`` is set when the scale must not be used automatically, and says why.
    """

    index: int
    kind: RegionKind
    box: Box
    x: Axis | None = None
    y: Axis | None = None
    source: str = "dicom"
    wave: str | None = None  # pulsed | continuous, for a spectrum
    doubt: str | None = None

    @property
    def width(self) -> int:
        """Columns in the box."""
        return self.box[2] - self.box[0] + 1

    @property
    def height(self) -> int:
        """Rows in the box."""
        return self.box[3] - self.box[1] + 1

    @property
    def area_px(self) -> int:
        """Pixels in the box."""
        return self.width * self.height

    @property
    def baseline_row(self) -> float:
        """Row of zero velocity in a spectrum, in image coordinates."""
        return self._axis("y", "m/s").pixel_at(0.0)

    @property
    def cm_per_row(self) -> float:
        """Centimetres a row, without sign."""
        return abs(self._axis("y", "cm").per_pixel)

    @property
    def s_per_column(self) -> float:
        """Seconds a column, without sign."""
        return abs(self._axis("x", "s").per_pixel)

    @property
    def m_s_per_row(self) -> float:
        """Metres a second a row of a spectrum, without sign."""
        return abs(self._axis("y", "m/s").per_pixel)

    def holds(self, point: Point, slack_px: float = 0.5) -> bool:
        """Return whether a point lies in the box."""
        left, top, right, bottom = self.box
        x, y = point
        return (
            left - slack_px <= x <= right + slack_px
            and top - slack_px <= y <= bottom + slack_px
        )

    def length_cm(self, one: Point, other: Point) -> float:
        """Return the distance of two points: oblique in 2-D, vertical only on an M-mode."""
        rows = self._axis("y", "cm").span(one[1], other[1])
        if self.kind in (RegionKind.M_MODE, RegionKind.COLOUR_M_MODE):
            return rows
        return hypot(self._axis("x", "cm").span(one[0], other[0]), rows)

    def area_cm2(self, points: tuple[Point, ...]) -> float:
        """Return the area inside a closed outline of a 2-D image (shoelace rule)."""
        scale = abs(self._axis("x", "cm").per_pixel * self._axis("y", "cm").per_pixel)
        following = points[1:] + points[:1]
        pairs = zip(points, following, strict=True)
        return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs)) / 2 * scale

    def time_s(self, one_px: float, other_px: float) -> float:
        """Return the time between two columns, without sign."""
        return self._axis("x", "s").span(one_px, other_px)

    def seconds_from_left(self, x: float) -> float:
        """Return the time of a column from the left edge of the tracing."""
        return (x - self.box[0]) * self.s_per_column

    def velocity_m_s(self, y: float) -> float:
        """Return the velocity at a row; up, towards the probe, is positive."""
        return self._axis("y", "m/s").value_at(y)

    def _axis(self, name: str, unit: str) -> Axis:
        axis = self.x if name == "x" else self.y
        if axis is None or axis.unit != unit:
            given = "no scale" if axis is None else f"a scale in {axis.unit}"
            raise NotMeasurable(
                f"a {self.kind} region has {given} along {name} where {unit} is needed"
            )
        return axis
