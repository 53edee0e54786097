"""A number read from images, with everything needed to doubt it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import hypot

from tableside.model.region import Point

Z90 = 1.6449  # half-width of a 90 % interval in standard deviations; computed


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Standard deviations by origin, each in the unit of the number.

    ``trace``: where the edge lies, with the pixel size. ``calibration``: the scale of the
    image. ``beats``: other beats of the same animal, for the mean over as many as were used.
    ``acquisition``: another sweep by the same person. ``reading``: another reader.
    """

    trace: float = 0.0
    calibration: float = 0.0
    beats: float = 0.0
    acquisition: float = 0.0
    reading: float = 0.0

    @property
    def within(self) -> float:
        """How well these beats were read: trace and calibration."""
        return hypot(self.trace, self.calibration)

    @property
    def sweep(self) -> float:
        """How well the mean of this sweep is known: also what other beats would add."""
        return hypot(self.within, self.beats)

    @property
    def total(self) -> float:
        """How well the animal is known: also what other beats, sweeps and readers add."""
        return hypot(self.sweep, self.acquisition, self.reading)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """One reading of the quantity in one beat; ``reason`` says why it was not used.

    ``sd`` is the standard deviation of this reading from its trace alone.
    """

    file: str
    frame: int
    value: float
    sd: float = 0.0
    time_s: float | None = None
    points: tuple[Point, ...] = ()
    used: bool = True
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """A published interval for a number, for this patient. One source, never mixed.

    A limit is None where the source gives only the other one. ``z`` is the distance from the
    centre in standard deviations, None where the source does not allow one.
    """

    source: str
    population: str
    low: float | None = None
    high: float | None = None
    z: float | None = None
    read: str = "page"  # where the digits were read: page | indirect | computed | memory
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """A quantity of `quantities.toml`, measured.

    ``method`` is ``automatic`` or ``caliper``. ``bound`` is ``lower`` when the true value can
    only be higher. ``scale`` names the calibration that the value hangs on: two values of one
    scale share its error fully. ``edges`` holds the same length by other edge conventions.
    """

    quantity: str
    value: float
    unit: str
    spread: Spread
    method: str
    beats: tuple[Beat, ...]
    convention: str | None = None
    bound: str | None = None
    detail: str | None = None
    scale: str | None = None
    edges: Mapping[str, float] = field(default_factory=dict)
    references: tuple[Reference, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """A stable name: what, how, and from which images."""
        files = ",".join(dict.fromkeys(beat.file for beat in self.beats))
        return "/".join(filter(None, (self.quantity, self.method, self.detail, files)))

    @property
    def sd(self) -> float:
        """Standard deviation of the value as a reading of the beats in these images."""
        return self.spread.within

    @property
    def sd_total(self) -> float:
        """Standard deviation with what other beats, another sweep and another reader add."""
        return self.spread.total

    @property
    def interval90(self) -> tuple[float, float]:
        """The interval that should hold the true value in these images nine times in ten."""
        return max(0.0, self.value - Z90 * self.sd), self.value + Z90 * self.sd

    @property
    def files(self) -> tuple[str, ...]:
        """The images that the used beats came from, in order."""
        return tuple(dict.fromkeys(beat.file for beat in self.beats if beat.used))


@dataclass(frozen=True, slots=True, kw_only=True)
class Index:
    """A number computed from measurements: a ratio, a volume, a gradient.

    ``sd`` and ``sd_total`` are propagated from those of the measurements. ``inputs`` are the
    names it was computed from; ``assumptions`` are said with it.
    """

    name: str
    value: float
    sd: float
    sd_total: float
    unit: str
    formula: str
    inputs: tuple[str, ...]
    sources: tuple[str, ...]
    bound: str | None = None
    assumptions: tuple[str, ...] = ()
    references: tuple[Reference, ...] = ()

    @property
    def interval90(self) -> tuple[float, float]:
        """The interval that should hold the true value nine times in ten."""
        return self.value - Z90 * self.sd, self.value + Z90 * self.sd


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """A line that was followed on an image, for people to see: pixel centres of one frame."""

    file: str
    frame: int
    name: str
    points: tuple[Point, ...]
