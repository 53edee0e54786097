"""The beats of one image: where the R waves are, and which beats may be used."""

from dataclasses import dataclass
from itertools import pairwise

from tableside.model.region import Point


@dataclass(frozen=True, slots=True, kw_only=True)
class RWave:
    """One R wave of a tracing.

    ``column`` is its pixel column in the image; the ECG and the tracing above it share the
    column. ``time_s`` counts from the left edge of the tracing. ``reason`` says why the beat
    that begins here must not be averaged (premature, after a premature beat); None when it may.
    """

    column: float
    time_s: float
    sd_s: float = 0.003
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rhythm:
    """The R waves of one image, in order. ``source`` is ``ecg``, ``file`` or ``tracing``.

    ``line`` holds the pixels of the drawn electrocardiogram, one a column where it is seen.
    """

    r_waves: tuple[RWave, ...] = ()
    source: str = "ecg"
    line: tuple[Point, ...] = ()

    @property
    def rr_s(self) -> tuple[float, ...]:
        """Intervals from each R wave to the next, in seconds."""
        times = [wave.time_s for wave in self.r_waves]
        return tuple(after - before for before, after in pairwise(times))
