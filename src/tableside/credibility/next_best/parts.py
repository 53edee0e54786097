"""The error of a reading by origin, as shares: of one already there, and of the next one.

A repeat renews only a part. More beats of a sweep leave its acquisition (an oblique M-line)
and its reader as they were; a fresh sweep leaves the reader; a new window of a jet has a new
angle, which the model reckons apart from all this.
"""

from dataclasses import dataclass, replace
from math import hypot, sqrt

from tableside.credibility.exam_model.observations import KINDS
from tableside.credibility.exam_model.settings import Constants
from tableside.model import Exam, Measurement, quantities

RATIO = "LA:Ao"
RATIO_OF = ("LA", "Ao")
BEATS = 3  # of a new sweep, and of a longer look at an old one
TRACE, CALIBRATION = 0.02, 0.005  # of a reading that does not exist yet
COMMON_TRACE = 0.5  # share of the trace variance that all beats of one image have in common


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """Standard deviations of the log of a reading, by origin; ``laws`` is the model's own."""

    trace: float
    calibration: float
    beats: float
    acquisition: float
    reading: float
    laws: float = 0.0

    def of_sweeps(self, count: int) -> "Parts":
        """Return the parts of the mean of several sweeps; scale, reader and laws stay."""
        return replace(
            self,
            trace=self.trace / sqrt(count),
            beats=self.beats / sqrt(count),
            acquisition=self.acquisition / sqrt(count),
        )

    @property
    def total(self) -> float:
        """All of them."""
        return hypot(
            self.trace,
            self.calibration,
            self.beats,
            self.acquisition,
            self.reading,
            self.laws,
        )

    def kept(self, how: str) -> float:
        """Return the part that a repeat has in common with the reading before it."""
        always = hypot(self.calibration, self.reading, self.laws)
        if how != "same sweep":
            return always
        return hypot(always, self.acquisition, sqrt(COMMON_TRACE) * self.trace)


def recorded(exam: Exam, name: str) -> Measurement | None:
    """Return the reading to rely on; those of an M-mode are no short axis."""
    return next((one for one in exam.all(name) if one.detail != "m-mode"), None)


def value_of(exam: Exam, name: str) -> float | None:
    """Return the number that was read, or None."""
    if name == RATIO:
        above, below = (recorded(exam, one) for one in RATIO_OF)
        if above is None or below is None or not (above.value > 0 and below.value > 0):
            return None
        return above.value / below.value
    one = recorded(exam, name)
    return one.value if one is not None and one.value > 0 else None


def tries(exam: Exam, name: str) -> int:
    """Return in how many images a number was recorded, used or not."""
    wanted = RATIO_OF[0] if name == RATIO else name
    return len({beat.file for one in exam.all(wanted) for beat in one.beats})


def parts_read(exam: Exam, name: str, p: Constants) -> Parts:
    """Return the parts of a reading that is there."""
    if name == RATIO:
        above, below = (parts_read(exam, one, p) for one in RATIO_OF)
        return _ratio(above, below, p)
    one = recorded(exam, name)
    assert one is not None
    spread, value = one.spread, one.value
    return Parts(
        trace=spread.trace / value,
        calibration=spread.calibration / value,
        beats=spread.beats / value,
        acquisition=0.0 if KINDS[name].has_angle else spread.acquisition / value,
        reading=spread.reading / value,
        laws=_laws(name, p),
    )


def parts_next(name: str, p: Constants, before: Parts | None) -> Parts:
    """Return the parts of the next sweep of three beats; trace and scale as ``before``."""
    if name == RATIO:
        above, below = (parts_next(one, p, None) for one in RATIO_OF)
        made = _ratio(above, below, p)
    else:
        variation = quantities()[name].variation
        made = Parts(
            trace=TRACE,
            calibration=CALIBRATION,
            beats=variation.beat / sqrt(BEATS),
            acquisition=0.0 if KINDS[name].has_angle else variation.acquisition,
            reading=variation.reading,
            laws=_laws(name, p),
        )
    if before is None:
        return made
    return replace(
        made, trace=before.trace, calibration=before.calibration, reading=before.reading
    )


def _laws(name: str, p: Constants) -> float:
    return hypot(*(p[law] for law in KINDS[name].laws))


def _ratio(above: Parts, below: Parts, p: Constants) -> Parts:
    """Return the parts of a ratio of one image: its scale cancels, its sweep in part."""
    common = p["sweep.shared"]
    acquisition = (
        above.acquisition**2
        + below.acquisition**2
        - 2 * common * above.acquisition * below.acquisition
    )
    return Parts(
        trace=hypot(above.trace, below.trace),
        calibration=0.0,
        beats=hypot(above.beats, below.beats),
        acquisition=sqrt(max(acquisition, 0.0)),
        reading=hypot(above.reading, below.reading),
    )
