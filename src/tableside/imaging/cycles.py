"""Which wave of a spectral tracing belongs to which beat, with an ECG and without.

Timings fit the dog and the cat. Without an ECG the waves themselves give the beats: a jet or
an outflow comes once a beat; of inflow the gap that is nearest to a systole parts the beats.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tableside.imaging.types import Floats
from tableside.imaging.waves import Wave

SYSTOLE_S = 0.26  # from the end of atrial filling to the opening of the mitral valve; memory
BEFORE_OUTFLOW_S = 0.034  # R wave to the start of ejection; memory
BEFORE_JET_S = -0.005  # R wave to the start of atrioventricular regurgitation; memory
AFTER_SYSTOLE_S = 0.20  # R wave to the start of diastolic regurgitation; memory
SHORTEST_S = 0.20  # no beat is shorter
USUAL_RR_S = 0.55  # when a single R wave is there
ATRIAL_S = 0.17  # the atrial wave peaks this near to the next R wave
ATRIAL_LASTS_S = 0.125  # and begins no sooner than this before it
JOINS_S = 0.045  # a wave that ends later than this before the next R wave holds the atrial one
LATE_S = 0.05  # and at most this long after it
SYSTOLE_SHARE = 0.62  # of the interval: a systolic wave peaks before this
LONGEST_SHARE, LONGEST_S = 0.80, 0.45  # of the interval, and in all: no systole lasts longer
DIASTOLE_SHARE = 0.26  # and a diastolic one after this
ALIKE_S = 0.05  # gaps that differ by less tell nothing
FEWEST_TURNS = 4  # waves, from which taking turns is no chance
TURNS_SHARE = 1.25  # the smaller wave of two that take turns is smaller by this
SMALL_AREA = 0.20  # of the largest wave of its beat: smaller ones are left out


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatWindow:
    """One beat in columns: its R wave, how long it lasts, and which R wave it is."""

    r: float
    rr: float
    index: int  # -1: the beat before the first R wave
    reason: str | None = None  # why it must not be averaged

    @property
    def next_r(self) -> float:
        """Column of the next R wave."""
        return self.r + self.rr


def beat_windows(
    r_columns: Sequence[float], columns: int, s_per_column: float
) -> list[BeatWindow]:
    """Return the beats of a tracing from its R waves, the cut ones at both ends too."""
    r = list(r_columns)
    if not r:
        return []
    usual = float(np.median(np.diff(r))) if len(r) > 1 else USUAL_RR_S / s_per_column
    lengths = [*np.diff(r), usual]
    windows = [
        BeatWindow(r=at, rr=float(rr), index=i)
        for i, (at, rr) in enumerate(zip(r, lengths, strict=True))
    ]
    before = BeatWindow(r=r[0] - usual, rr=usual, index=-1)
    return [one for one in (before, *windows) if one.r < columns]


def systolic_wave(waves: Sequence[Wave], beat: BeatWindow, s_per_column: float) -> Wave | None:
    """Return the largest wave of a beat's systole."""
    stop = beat.r + min(SYSTOLE_SHARE * beat.rr, 0.42 / s_per_column)
    longest = min(LONGEST_SHARE * beat.rr, LONGEST_S / s_per_column)
    short = [one for one in waves if one.columns <= longest]
    return _largest(short, beat.r - 0.01 / s_per_column, stop)


def diastolic_wave(waves: Sequence[Wave], beat: BeatWindow, s_per_column: float) -> Wave | None:
    """Return the largest wave of a beat's diastole."""
    start = beat.r + max(DIASTOLE_SHARE * beat.rr, 0.10 / s_per_column)
    return _largest(waves, start, beat.next_r)


def filling_waves(
    waves: Sequence[Wave], beat: BeatWindow, s_per_column: float
) -> tuple[Wave | None, Wave | None]:
    """Return the early and the atrial wave of a beat; the same wave twice when fused.

    Fused means: one wave that fills the diastole and lasts until the next beat.
    """
    start = beat.r + max(0.30 * beat.rr, 0.12 / s_per_column)
    stop = beat.next_r + LATE_S / s_per_column
    inside = [one for one in waves if start <= one.peak_at <= stop]
    if not inside:
        return None, None
    large = max(one.area for one in inside)
    inside = [one for one in inside if one.area >= SMALL_AREA * large]
    atrial_from = beat.next_r - min(ATRIAL_S / s_per_column, 0.42 * beat.rr)
    early, late = inside[0], inside[-1]
    if early is not late:
        return early, late if late.peak_at >= atrial_from else None
    if early.start >= beat.next_r - min(ATRIAL_LASTS_S / s_per_column, 0.28 * beat.rr):
        return None, early
    lasts = early.end >= beat.next_r - JOINS_S / s_per_column
    return (early, early) if lasts else (early, None)


def r_from_single_waves(
    waves: Sequence[Wave], before_s: float, s_per_column: float
) -> list[float]:
    """Return where the R waves would be when the flow comes once a beat."""
    tall = [one for one in waves if one.peak_px >= 0.5 * max(w.peak_px for w in waves)]
    found: list[float] = []
    for one in tall:
        at = one.start - before_s / s_per_column
        if not found or at - found[-1] > SHORTEST_S / s_per_column:
            found.append(at)
    return found


def r_from_filling(waves: Sequence[Wave], s_per_column: float) -> list[float]:
    """Return where the R waves would be when early and atrial waves take turns.

    The gap that is nearest to a systole parts the beats. Where both gaps are alike, waves that
    take turns in area tell early from atrial filling, which is the smaller; waves that are all
    alike are one a beat.
    """
    if len(waves) < 2:
        return []
    gaps = np.array([b.start - a.end for a, b in pairwise(waves)])
    off = np.abs(gaps * s_per_column - SYSTOLE_S)
    even, odd = float(np.median(off[::2])), float(np.median(off[1::2])) if off.size > 1 else 9.0
    every = float(np.median(off)) < 0.06 and float(np.max(off)) < 0.09
    every = every or _are_alike(waves, gaps * s_per_column)
    smaller = _smaller_by_turns(waves)
    if smaller is not None and abs(even - odd) < ALIKE_S:
        chosen = range(smaller, len(gaps), 2)
    elif every and smaller is None:
        chosen = range(len(gaps))
    else:
        chosen = range(0 if even <= odd else 1, len(gaps), 2)
    found = [waves[i].end for i in chosen if gaps[i] * s_per_column > 0.12]
    return [float(at) for at in found]


def _are_alike(waves: Sequence[Wave], gaps_s: Floats) -> bool:
    """Return whether all waves and all gaps repeat themselves, as fused filling does."""
    area = [one.area for one in waves[1:-1]]  # those at the ends may be cut
    if len(area) < FEWEST_TURNS - 2:
        return False
    return max(area) < TURNS_SHARE * min(area) and float(np.ptp(gaps_s)) < ALIKE_S


def _smaller_by_turns(waves: Sequence[Wave]) -> int | None:
    """Return 0 or 1 where every other wave is the smaller one, counted from the first."""
    if len(waves) < FEWEST_TURNS:
        return None
    area = np.array([one.area for one in waves])
    first, second = area[::2], area[1::2]
    if first.min() > second.max() * TURNS_SHARE:
        return 1
    return 0 if second.min() > first.max() * TURNS_SHARE else None


def _largest(waves: Sequence[Wave], start: float, stop: float) -> Wave | None:
    inside = [one for one in waves if start <= one.peak_at <= stop]
    return max(inside, key=lambda one: one.area) if inside else None
