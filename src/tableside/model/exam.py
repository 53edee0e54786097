"""What the stages after measuring look at: the patient, the visit and the numbers."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from tableside.model.joint import Joint
from tableside.model.measurement import Index, Measurement
from tableside.model.patient import Patient, Visit
from tableside.model.study import Image, Study

Number = Measurement | Index


@dataclass(frozen=True, slots=True, kw_only=True)
class Exam:
    """The numbers of one visit.

    ``study`` is there for views, labels and image kinds. ``joint`` is what one model of the
    whole examination believes of the quantities together, once it was asked.
    """

    study: Study = field(default_factory=Study)
    measurements: tuple[Measurement, ...] = ()
    indices: tuple[Index, ...] = ()
    joint: Joint | None = None

    @property
    def patient(self) -> Patient:
        """The animal."""
        return self.study.patient

    @property
    def visit(self) -> Visit:
        """What was noted at the visit."""
        return self.study.visit

    def all(self, quantity: str) -> Iterator[Measurement]:
        """Yield every measurement of a quantity, the one to rely on first.

        What a person measured goes before what the program measured; after that the smaller
        share of doubt goes first.
        """
        found = [one for one in self.measurements if one.quantity == quantity]
        yield from sorted(found, key=_reliance)

    def measurement(self, quantity: str, detail: str | None = None) -> Measurement | None:
        """Return the measurement to rely on, or None when there is none.

        ``detail`` asks for one way of measuring, for example ``m-mode``.
        """
        found = self.all(quantity)
        return next((one for one in found if detail is None or one.detail == detail), None)

    def index(self, name: str) -> Index | None:
        """Return an index by its name, or None."""
        return next((one for one in self.indices if one.name == name), None)

    def number(self, name: str) -> Number | None:
        """Return a measurement or an index by name, or None."""
        return self.measurement(name) or self.index(name)

    def image(self, file: str) -> Image | None:
        """Return the image of a file name, or None."""
        return self.study.image(file)


def _reliance(one: Measurement) -> tuple[bool, float, str]:
    share = one.sd / abs(one.value) if one.value else float("inf")
    return one.method != "caliper", share, one.id
