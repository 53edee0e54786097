"""How edits name things: a measurement by what it is, a beat by where it was found.

Names stay the same when other images join a number or leave it, and over a restart.
"""

from dataclasses import dataclass

from tableside.errors import NotFound
from tableside.model import Beat, Measurement

BY_HAND = "caliper"


def measurement_id(one: Measurement) -> str:
    """Return what a measurement is: quantity, method, detail and edge convention."""
    return "/".join(filter(None, (one.quantity, one.method, one.detail, one.convention)))


@dataclass(frozen=True, slots=True)
class BeatName:
    """One beat: the measurement, the file, and its place there or the caliper's id."""

    measurement: str
    file: str
    place: str

    def __str__(self) -> str:
        """Return the name as it travels."""
        return f"{self.measurement}@{self.file}#{self.place}"

    @property
    def caliper(self) -> str | None:
        """The id of the caliper that gave the beat; None for one that the program found."""
        return self.place if self.place[:1] in ("c", "w") else None


def parse_beat(name: str) -> BeatName:
    """Read a beat's name.

    Raises
    ------
    NotFound
        When it is none.
    """
    measurement, at, rest = name.partition("@")
    file, hash_, place = rest.rpartition("#")
    if not (at and hash_ and measurement and file and place):
        raise NotFound(f"{name!r} names no beat; take the id of a beat from the reading")
    return BeatName(measurement, file, place)


def where(beat: Beat) -> tuple[object, ...]:
    """Return what tells the beats of one measurement apart."""
    return beat.file, beat.frame, beat.time_s, beat.points
