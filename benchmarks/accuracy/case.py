"""One tracing with its truth, how it is read, and the rows that come of it."""

import time
import traceback
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tableside.automatic import ImageReading
from tableside.automatic.doppler import measure_spectrum
from tableside.automatic.ecg import electrocardiogram, read_ecg
from tableside.automatic.mmode import measure_mmode
from tableside.automatic.scale import check_scale
from tableside.model import Image, Measurement, Mode, Rhythm

Floats = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Factors = Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What is to be made: a family, a seed, and the level of every factor."""

    family: str
    number: int
    seed: int
    factors: Factors


@dataclass(frozen=True, slots=True)
class BeatTruth:
    """What is true of a beat, and when a reading belongs to it, from the left edge."""

    start_s: float
    end_s: float
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tracing:
    """A picture as it would be stored, and what is true of it.

    ``edges`` are rows of the image, one a column of the tracing, from column ``left``.
    ``readable`` holds the quantities that a careful reader could read. ``beats`` holds, by
    quantity, the truth of every complete beat, where known.
    ``is_incomplete`` says that the top of the envelope cannot be seen.
    """

    case: Case
    image: Image
    pixels: Pixels
    left: int
    truth: Mapping[str, float]
    readable: frozenset[str]
    edges: Mapping[str, Floats] = field(default_factory=dict)
    beats: Mapping[str, Sequence[BeatTruth]] = field(default_factory=dict)
    r_columns: Floats | None = None
    ecg_span: tuple[float, float] = (0.0, 0.0)
    is_incomplete: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What the program said of a tracing, and how long it took without the ECG."""

    measurements: Mapping[str, Measurement]
    rhythm: Rhythm | None
    found: ImageReading
    seconds: float
    crash: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One quantity of one tracing; ``value`` None where it was not reported."""

    case: Case
    quantity: str
    truth: float
    readable: bool
    value: float | None = None
    interval: tuple[float, float] | None = None
    bound: str | None = None
    is_incomplete: bool = False
    beat_errors: tuple[float, ...] = ()

    @property
    def error(self) -> float:
        """What was reported less what is true."""
        assert self.value is not None
        return self.value - self.truth

    @property
    def is_covered(self) -> bool:
        """Whether the 90 % interval holds the truth of the beats that were used."""
        assert self.interval is not None and self.value is not None
        truth = self.truth
        if self.beat_errors:
            truth = self.value - float(np.mean(self.beat_errors))
        return self.interval[0] <= truth <= self.interval[1]


def read(tracing: Tracing) -> Answer:
    """Read a tracing by the public path: scale, ECG, then what its label names."""
    try:
        image = check_scale(tracing.image, tracing.pixels)
        rhythm, of_ecg = read_ecg(image, tracing.pixels)
        started = time.process_time()
        found = _measured(image, tracing.pixels, rhythm, of_ecg)
        seconds = time.process_time() - started
    except Exception as error:  # a benchmark counts a crash and goes on
        last = traceback.extract_tb(error.__traceback__)[-1]
        place = f"{Path(last.filename).name}:{last.lineno}"
        said = f"{type(error).__name__}: {error} ({place}), case {tracing.case.number}"
        return Answer(
            measurements={}, rhythm=None, found=ImageReading(), seconds=0.0, crash=said
        )
    both = ImageReading(
        measurements=of_ecg.measurements + found.measurements,
        traces=found.traces,
        notes=of_ecg.notes + found.notes,
    )
    named = {one.quantity: one for one in both.measurements}
    return Answer(measurements=named, rhythm=rhythm, found=both, seconds=seconds)


def _measured(
    image: Image, pixels: Pixels, rhythm: Rhythm | None, of_ecg: ImageReading
) -> ImageReading:
    if image.mode is Mode.SPECTRAL:
        return measure_spectrum(image, pixels, rhythm)
    if image.mode is Mode.M_MODE:
        return measure_mmode(image, pixels, rhythm, electrocardiogram(of_ecg))
    return ImageReading()


def rows_of(tracing: Tracing, answer: Answer) -> list[Row]:
    """Put each true quantity beside what was reported."""
    return [_row(tracing, name, truth, answer) for name, truth in tracing.truth.items()]


def _row(tracing: Tracing, name: str, truth: float, answer: Answer) -> Row:
    got = answer.measurements.get(name)
    return Row(
        case=tracing.case,
        quantity=name,
        truth=truth,
        readable=name in tracing.readable,
        value=got.value if got else None,
        interval=got.interval90 if got else None,
        bound=got.bound if got else None,
        is_incomplete=tracing.is_incomplete,
        beat_errors=_beat_errors(got, tracing.beats.get(name, ())) if got else (),
    )


def _beat_errors(got: Measurement, beats: Sequence[BeatTruth]) -> tuple[float, ...]:
    """Errors of the used beats against the same beats' truths."""
    errors = []
    for beat in got.beats:
        if not beat.used or beat.time_s is None:
            continue
        same = [one for one in beats if one.start_s <= beat.time_s < one.end_s]
        if same:
            middle = [abs(beat.time_s - (one.start_s + one.end_s) / 2) for one in same]
            errors.append(beat.value - same[int(np.argmin(middle))].value)
    return tuple(errors)
