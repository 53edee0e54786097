"""When the heart beats: R waves of a rhythm, and the mechanical events after each.

Timings are those of dogs: QRS about 50 ms, so its onset lies 20 ms before R; pre-ejection
period about 54 ms from the onset; ejection time index 227 ms = ET + 0.55 HR; isovolumic
relaxation about 45 ms. Source: memory (Atkins 1992 for the systolic intervals).
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tableside.errors import NotFound
from tableside.phantom.types import Floats

RHYTHMS = ("sinus", "sinus arrhythmia", "atrial fibrillation", "premature beats")
QRS_TO_R_S = 0.020
PRE_EJECTION_S = 0.054
RELAXATION_S = 0.045
ATRIAL_S = 0.075
EARLY_S = 0.090
REFRACTORY_S = 0.180


@dataclass(frozen=True, slots=True, kw_only=True)
class HeartBeat:
    """One beat: its R wave, the intervals around it, and the events it causes, in seconds.

    ``vigour`` is its strength over that of a usual beat.
    """

    r_s: float
    rr_s: float
    rr_before_s: float
    atrial: bool = True
    premature: bool = False
    vigour: float = 1.0

    @property
    def onset_s(self) -> float:
        """Onset of the QRS complex: end diastole."""
        return self.r_s - QRS_TO_R_S

    @property
    def ejection_s(self) -> float:
        """The aortic valve opens."""
        return self.onset_s + PRE_EJECTION_S

    @property
    def ejection_time_s(self) -> float:
        """How long the aortic valve stays open."""
        return float(np.clip(0.227 - 0.00055 * 60 / self.rr_before_s, 0.09, 0.4 * self.rr_s))

    @property
    def closure_s(self) -> float:
        """The aortic valve closes: end systole."""
        return self.ejection_s + self.ejection_time_s

    @property
    def filling_s(self) -> float:
        """The mitral valve opens."""
        return self.closure_s + min(RELAXATION_S, 0.15 * self.rr_s)

    @property
    def end_s(self) -> float:
        """The QRS of the next beat begins."""
        return self.r_s + self.rr_s - QRS_TO_R_S

    @property
    def filling_time_s(self) -> float:
        """From mitral opening to the next QRS."""
        return self.end_s - self.filling_s

    @property
    def early_time_s(self) -> float:
        """How long the rapid filling of the ventricle lasts."""
        return min(EARLY_S, 0.6 * self.filling_time_s)

    @property
    def kick_s(self) -> float:
        """The atrium begins to fill the ventricle."""
        return max(self.end_s - ATRIAL_S, self.filling_s)


def heart_beats(
    duration_s: float, heart_rate: float, rhythm: str, rng: np.random.Generator
) -> tuple[HeartBeat, ...]:
    """Return the beats that reach into ``0..duration_s``, with two to spare on either side.

    Parameters
    ----------
    duration_s : float
        Length of the tracing.
    heart_rate : float
        Mean rate, beats/min.
    rhythm : str
        One of `RHYTHMS`.
    rng : numpy.random.Generator

    Notes
    -----
    Sinus arrhythmia lengthens and shortens the interval by a fifth with each breath; atrial
    fibrillation draws log-normal intervals (sigma 0.18, refractory period 180 ms); a premature
    beat comes at six tenths of the interval and is followed by a pause that makes up for it.
    """
    if rhythm not in RHYTHMS:
        raise NotFound(f"no rhythm {rhythm!r}; there are {', '.join(RHYTHMS)}")
    mean_s = 60.0 / heart_rate
    count = int(duration_s / mean_s) * 2 + 12
    intervals, premature = _intervals(count, mean_s, rhythm, rng)
    r_s = np.cumsum(intervals) - intervals[:3].sum() - rng.uniform(0.0, 0.9) * mean_s
    atrial = rhythm != "atrial fibrillation"
    vigour = 1 + rng.normal(0, 0.012, count)
    beats = [
        HeartBeat(
            r_s=float(r_s[k]),
            rr_s=float(intervals[k + 1]),
            rr_before_s=float(intervals[k]),
            atrial=atrial and not premature[k + 1],
            premature=bool(premature[k]),
            vigour=float(vigour[k]),
        )
        for k in range(count - 1)
    ]
    return tuple(beat for beat in beats if beat.r_s < duration_s + 2 * mean_s)


def _intervals(
    count: int, mean_s: float, rhythm: str, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Interval before each beat, and whether the beat is premature."""
    premature = np.zeros(count + 1)
    if rhythm == "atrial fibrillation":
        drawn = mean_s * np.exp(rng.normal(-0.016, 0.18, count))
        return np.maximum(drawn, REFRACTORY_S + 0.06), premature
    jitter = 0.02 if rhythm == "sinus arrhythmia" else 0.008
    intervals = mean_s * (1 + rng.normal(0, jitter, count))
    if rhythm == "sinus arrhythmia":
        breath = 2 * np.pi * (0.35 * mean_s * np.arange(count) + rng.uniform())
        intervals *= 1 + 0.2 * np.sin(breath)
    if rhythm == "premature beats":
        for k in range(4 + int(rng.integers(0, 2)), count - 1, 5):
            premature[k] = 1
            intervals[k], intervals[k + 1] = 0.6 * mean_s, 1.4 * mean_s
    return intervals, premature


def complete_beats(beats: tuple[HeartBeat, ...], duration_s: float) -> tuple[HeartBeat, ...]:
    """Return the beats whose QRS onset and next R wave both lie on the tracing."""
    return tuple(
        beat
        for beat, following in pairwise(beats)
        if beat.onset_s >= 0 and following.r_s <= duration_s
    )
