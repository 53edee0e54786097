"""What a page may ask to be changed, and what it is told."""

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from tableside.intake.worksheet_keys import ScaleTable
from tableside.model import FLOWS, MMODE_LEVELS, VIEWS, quantities
from tableside.server.shapes.given_and_told import Coordinate, Given, Told
from tableside.server.shapes.reading import Changed, Reading
from tableside.server.shapes.study import Edit

MOST_POINTS = 2000
ImageGiven = Annotated[int, Field(ge=0, le=100_000)]
PointGiven = Annotated[
    list[Coordinate], Field(min_length=2, max_length=2, description="x, y: pixel centres")
]
Points = Annotated[list[PointGiven], Field(min_length=1, max_length=MOST_POINTS)]
BeatGiven = Annotated[str, Field(min_length=5, max_length=1000)]
Word = Annotated[str, Field(min_length=1, max_length=500, pattern=r"^[^\x00-\x1f]+$")]


def _require_one_of(value: str | None, allowed: tuple[str, ...]) -> str | None:
    if value is not None and value not in allowed:
        raise ValueError(f"{value!r} is not known; there are: {'; '.join(allowed)}")
    return value


class LabelPayload(Given):
    """Labels of one image; a key that is left out stays, null takes the label away."""

    image: ImageGiven
    view: Word | None = None
    mmode: Word | None = None
    flow: Word | None = None

    @field_validator("view")
    @classmethod
    def _known_view(cls, value: str | None) -> str | None:
        return _require_one_of(value, VIEWS)

    @field_validator("mmode")
    @classmethod
    def _known_level(cls, value: str | None) -> str | None:
        return _require_one_of(value, MMODE_LEVELS)

    @field_validator("flow")
    @classmethod
    def _known_flow(cls, value: str | None) -> str | None:
        return _require_one_of(value, FLOWS)

    @model_validator(mode="after")
    def _require_a_label(self) -> "LabelPayload":
        if not self.model_fields_set & {"view", "mmode", "flow"}:
            raise ValueError("it sets no label; give view, mmode or flow")
        return self


class CaliperPayload(Given):
    """Points that a person put on a frame, and what they mean."""

    image: ImageGiven
    quantity: Word
    frame: Annotated[int, Field(ge=0, le=100_000)] = 0
    points: Points

    @field_validator("quantity")
    @classmethod
    def _known_quantity(cls, value: str) -> str:
        _require_one_of(value, tuple(quantities()))
        return value


class MovePayload(Given):
    """A point of a beat put elsewhere (``point`` and ``to``), or all of them (``points``)."""

    beat: BeatGiven
    point: Annotated[int, Field(ge=0, lt=MOST_POINTS)] | None = None
    to: PointGiven | None = None
    points: Points | None = None

    @model_validator(mode="after")
    def _require_one_way(self) -> "MovePayload":
        if (self.points is None) == (self.point is None or self.to is None):
            raise ValueError("give point and to, or points")
        return self


class BeatPayload(Given):
    """Whether a beat takes part in the average."""

    beat: BeatGiven
    used: bool


class RemovePayload(Given):
    """A caliper to take away, by one of its beats."""

    beat: BeatGiven


class ScalePayload(Given):
    """The scale read off the ruler of an image, as `[image.scale]` of the worksheet."""

    image: ImageGiven
    scale: ScaleTable | None = None


class LinePayload(Given):
    """A line on a cine, from the probe to the depth; its M-mode is measured."""

    image: ImageGiven
    line: Annotated[list[PointGiven], Field(min_length=2, max_length=2)]


class DecidePayload(Given):
    """What a person makes of a number; ``value`` is the one on the screen."""

    measurement: Word
    state: Literal["accepted", "refused", "open"]
    value: Annotated[float, Field(allow_inf_nan=False)] | None = None


class NothingPayload(Given):
    """Nothing more to say."""


class VisitPayload(Given):
    """Facts of the animal and the visit; one that is left out stays, null takes it away."""

    id: Word | None = None
    name: Word | None = None
    species: Literal["dog", "cat"] | None = None
    breed: Word | None = None
    sex: Literal["F", "FN", "M", "MN"] | None = None
    birth_date: dt.date | None = None
    weight_kg: Annotated[float, Field(ge=0.05, le=150)] | None = None
    owner: Word | None = None
    date: dt.date | None = None
    murmur_grade: Annotated[int, Field(ge=0, le=6)] | None = None
    systolic_pressure_mmHg: Annotated[float, Field(ge=20, le=400)] | None = None
    systolic_pressure_readings: Annotated[int, Field(ge=1, le=100)] | None = None
    sedation: Word | None = None
    vertebral_heart_score: Annotated[float, Field(ge=4, le=25)] | None = None
    signs: Annotated[list[Word], Field(max_length=50)] | None = None
    ascites: bool | None = None

    @model_validator(mode="after")
    def _require_a_fact(self) -> "VisitPayload":
        if not self.model_fields_set:
            raise ValueError("it holds no fact")
        return self


class UndoPayload(Given):
    """The edit to undo; without a version the editor's newest one."""

    version: Annotated[int, Field(ge=1)] | None = None


class _Edit(Given):
    base_version: Annotated[int, Field(ge=0, description="The version the page shows")]
    who: Annotated[
        str,
        Field(
            min_length=1,
            max_length=60,
            pattern=r"^[\w .@-]+$",
            description="The editor: the same after a reload, another in another browser",
        ),
    ]


class LabelEdit(_Edit):
    """Say what an image shows."""

    kind: Literal["label"]
    payload: LabelPayload


class CaliperEdit(_Edit):
    """Measure."""

    kind: Literal["caliper"]
    payload: CaliperPayload


class MoveEdit(_Edit):
    """Move a point."""

    kind: Literal["move"]
    payload: MovePayload


class BeatEdit(_Edit):
    """Leave a beat out, or take it back."""

    kind: Literal["beat"]
    payload: BeatPayload


class RemoveEdit(_Edit):
    """Take a caliper away."""

    kind: Literal["remove"]
    payload: RemovePayload


class ScaleEdit(_Edit):
    """Give an image its scale."""

    kind: Literal["scale"]
    payload: ScalePayload


class LineEdit(_Edit):
    """Measure the M-mode along a line of a cine; a later line replaces an earlier one."""

    kind: Literal["line"]
    payload: LinePayload


class DecideEdit(_Edit):
    """Accept or refuse a number."""

    kind: Literal["decide"]
    payload: DecidePayload


class AcceptEdit(_Edit):
    """Accept every open number that is unremarkable."""

    kind: Literal["accept_unremarkable"]
    payload: NothingPayload = NothingPayload()


class VisitEdit(_Edit):
    """Note a fact of the animal or the visit."""

    kind: Literal["visit"]
    payload: VisitPayload


class UndoEdit(_Edit):
    """Undo."""

    kind: Literal["undo"]
    payload: UndoPayload = UndoPayload()


class RedoEdit(_Edit):
    """Redo what was undone last."""

    kind: Literal["redo"]
    payload: NothingPayload = NothingPayload()


EditGiven = Annotated[
    LabelEdit
    | CaliperEdit
    | MoveEdit
    | BeatEdit
    | RemoveEdit
    | ScaleEdit
    | LineEdit
    | DecideEdit
    | AcceptEdit
    | VisitEdit
    | UndoEdit
    | RedoEdit,
    Field(discriminator="kind"),
]
PreviewGiven = Annotated[
    LabelEdit
    | CaliperEdit
    | MoveEdit
    | BeatEdit
    | RemoveEdit
    | ScaleEdit
    | LineEdit
    | DecideEdit
    | VisitEdit,
    Field(discriminator="kind"),
]


class Changes(Told):
    """What a page needs to come from one version to another.

    ``changed`` is given where the server still knows the older version, else the whole
    ``reading``. ``merged`` are edits by others, about other things, that came in between.
    """

    version: int
    kept: int | None = Field(None, description="The version of the edit that was just sent")
    changed: Changed | None = None
    reading: Reading | None = None
    refused: list[dict[str, Any]] = []
    edits: list[Edit]
    merged: list[int] = []


class Previewed(Told):
    """What an edit would change. Findings are not concluded anew until it is kept."""

    changed: Changed
    problem: str | None = Field(None, description="Why the edit would not be taken")


class ConflictProblem(Told):
    """409: someone else changed the same thing after ``base_version``."""

    type: str
    title: str
    status: int
    detail: str
    newer: list[Edit] = []
    version: int | None = None
