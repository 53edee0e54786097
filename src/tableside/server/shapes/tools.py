"""What the tools of the pages ask and are told."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from tableside.server.shapes.edits import ImageGiven, PointGiven, Word
from tableside.server.shapes.given_and_told import Given, Told, ToldPoint
from tableside.server.shapes.reading import Region
from tableside.server.shapes.study import Line

FrameGiven = Annotated[int, Field(ge=0, le=100_000)]
BoxGiven = Annotated[
    list[Annotated[int, Field(ge=0, le=100_000)]],
    Field(min_length=4, max_length=4, description="left, top, right, bottom, inclusive"),
]


class SnapGiven(Given):
    """The two ends of a caliper; both are looked at, along the line through them."""

    image: ImageGiven
    frame: FrameGiven = 0
    points: Annotated[list[PointGiven], Field(min_length=2, max_length=2)]
    quantity: Word | None = None


class SnappedEnd(Told):
    """The interfaces near one end; None where there is none of the kind.

    ``rising`` is where grey rises from the first end to the second, ``falling`` where it falls.
    """

    nearest: ToldPoint
    rising: ToldPoint | None = None
    falling: ToldPoint | None = None
    contrast: float
    sd_px: float


class Convention(Told):
    """The caliper by one edge convention."""

    name: Literal["leading edge", "inner edge"]
    points: list[ToldPoint]
    value: float | None = None
    unit: str | None = None


class Snapped(Told):
    """Both ends; one that has no interface within reach is None, and ``problem`` says so."""

    ends: list[SnappedEnd | None]
    conventions: list[Convention]
    problem: str | None = None


class MModeGiven(Given):
    """A line on a cine, from the probe to the depth."""

    image: ImageGiven
    line: Annotated[list[PointGiven], Field(min_length=2, max_length=2)]


class Extreme(Told):
    """A diameter that the M-mode gave; its points lie on a frame of the cine."""

    quantity: str
    value: float
    sd: float
    unit: str
    frame: int
    time_s: float
    points: list[ToldPoint]


class MMode(Told):
    """The M-mode along the line. ``png`` is base64; its columns are ``column_s`` apart."""

    png: str
    rows: int
    columns: int
    column_s: float
    region: Region
    traces: list[Line]
    diameters: list[Extreme]
    frames_per_s: float
    notes: list[str]


class RulerGiven(Given):
    """An image without a scale, or one to be checked."""

    image: ImageGiven
    frame: FrameGiven = 0


class Ruler(Told):
    """Evenly spaced marks found on the picture."""

    way: Literal["down", "across"]
    line_px: int
    spacing_px: float
    spacing_sd_px: float
    ticks: list[ToldPoint]


class Rulers(Told):
    """All rulers, the clearest first; ``problem`` says that there are none."""

    rulers: list[Ruler]
    problem: str | None = None


class ExportGiven(Given):
    """What to export. Without ``keep`` only the calibrated parts of the picture are shown."""

    image: ImageGiven
    first: FrameGiven = 0
    last: FrameGiven | None = None
    drawing: bool = False
    format: Literal["png", "mp4", "gif"] = "png"
    keep: Annotated[list[BoxGiven], Field(max_length=20)] | None = None

    @model_validator(mode="after")
    def _require_order(self) -> "ExportGiven":
        if self.last is not None and self.last < self.first:
            raise ValueError(f"last = {self.last} is before first = {self.first}")
        return self
