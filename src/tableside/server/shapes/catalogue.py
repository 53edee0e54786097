"""What there is to measure and to label."""

from pydantic import Field

from tableside.server.shapes.given_and_told import Told


class Place(Told):
    """A kind of region that a quantity is measured on, with the units its axes need."""

    region: str
    x: str | None = None
    y: str | None = None


class Quantity(Told):
    """One line of the catalogue, and how a person measures it."""

    id: str
    name: str
    unit: str
    kind: str
    low: float
    high: float
    fewest_points: int
    most_points: int | None = Field(description="None: as many as the hand draws")
    places: list[Place]


class Label(Told):
    """One word for an image, and the key that sets it."""

    label: str
    key: str


class Item(Told):
    """One item of a protocol: which label shows it, and which numbers it is there to give."""

    name: str
    kind: str = Field(description="view | mmode | flow")
    labels: list[str]
    colour: bool
    quantities: list[str]


class Protocol(Told):
    """What a complete study holds, in the order of doing it."""

    name: str
    title: str
    species: str
    items: list[Item]


class Source(Told):
    """Where numbers and rules were published."""

    key: str
    text: str


class Catalogue(Told):
    """Everything that does not depend on a study."""

    version: str
    cautions: list[str]
    quantities: list[Quantity]
    views: list[Label]
    mmode_levels: list[Label]
    flows: list[Label]
    protocols: list[Protocol]
    sources: list[Source]
