"""Studies and images as the pages see them."""

from typing import Literal

from pydantic import Field

from tableside.server.shapes.given_and_told import Told, ToldPoint
from tableside.server.shapes.reading import Decision, Measurement, Reading, Region, Rejected

Status = Literal["reading", "ready", "failed"]


class Progress(Told):
    """How far the reading has come."""

    file: str
    position: int
    total: int


class Listed(Told):
    """One study in the list."""

    id: str
    patient: str | None = None
    patient_id: str | None = None
    species: str | None = None
    breed: str | None = None
    owner: str | None = None
    date: str | None = None
    images: int | None = None
    status: Status
    progress: Progress | None = None
    failure: str | None = None
    version: int
    arrived: str


class Received(Told):
    """A delivery that was taken; reading goes on."""

    id: str
    is_new: bool
    rejected: list[Rejected]


class Suggestion(Told):
    """Labels that an image without one could carry, the likeliest first, all of one kind.

    ``probabilities`` belong to the labels, and ``evidence`` says what speaks for the first;
    both are there where the picture itself was judged. ``certain`` is the label that is used
    until a person says otherwise.
    """

    n: int
    kind: Literal["view", "mmode", "flow"]
    labels: list[str]
    probabilities: list[float] | None = None
    evidence: list[str] = []
    certain: str | None = None


class Edit(Told):
    """One record of the log."""

    version: int
    at: str
    who: str
    kind: str
    image: int | None = None
    text: str = Field(description="What was done, in words")
    undone: bool = False
    undoes: int | None = None
    redoes: int | None = None
    note: str | None = Field(None, description="Why the edit has no effect now")


class StudyState(Told):
    """One study: its reading, and everything that people did."""

    id: str
    version: int
    status: Status
    progress: Progress | None = None
    failure: str | None = None
    reading: Reading | None = None
    refused: list[Measurement] = []
    suggestions: list[Suggestion] = []
    decisions: dict[str, Decision] = {}
    rejected: list[Rejected] = []
    edits: list[Edit] = []
    notices: list[str] = []


class ImageDetail(Told):
    """What is needed to show and play an image."""

    n: int
    file: str
    mode: str
    frames: int
    rows: int
    columns: int
    frame_times_s: list[float]
    r_wave_times_s: list[float]
    regions: list[Region]
    view: str | None = None
    mmode: str | None = None
    flow: str | None = None
    stated_heart_rate: float | None = None
    vendor: str | None = None
    acquired: str | None = None
    coding: Literal["stored", "transcoded"]
    doubt: str | None = None
    notes: list[str] = []


class Line(Told):
    """A drawn line, in pixels of the image."""

    name: str
    points: list[ToldPoint]
