"""What a repeat would read in every possible heart, and how its error is spread.

The error that a repeat has in common with a reading already there is known in part: it is what
that reading is off in the heart in question. So the next reading is expected at

    truth + kept^2 / total^2 * (old reading - truth),      sd^2 = new^2 - kept^4 / total^2,

all in logs (the cuff in mmHg): two normals with a common part. An old reading that is wrong by
a fault tells nothing of the next sweep, and all of more beats of its own.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, log, sqrt

import numpy as np

from tableside.credibility.exam_model.observations import (
    CUFF,
    KINDS,
    Kind,
    Observation,
    cuff_sd_mmHg,
)
from tableside.credibility.exam_model.settings import Constants, FitOptions
from tableside.credibility.exam_model.tables import Table, table
from tableside.credibility.exam_model.visit import visit_constants
from tableside.credibility.next_best.belief import Floats, Hearts
from tableside.credibility.next_best.losses import Repeat
from tableside.credibility.next_best.parts import RATIO, Parts, parts_next, parts_read, value_of
from tableside.model import Exam

KEPT_READINGS = 4  # of a cuff series of five the first is discarded
ENOUGH_READINGS = 5
LARGEST_ANGLE_DEG = 80.0
GRID = 8192
TINY = 1e-12


@dataclass(frozen=True, slots=True)
class NextReading:
    """One number of a repeat: where it is expected in every heart, and how it strays."""

    name: str
    expected: Floats  # (hearts,), logs; mmHg for the cuff
    spread: Table

    def log_density(self, readings: Floats) -> Floats:
        """Return (readings, hearts)."""
        low = float(readings.min() - self.expected.max())
        high = float(readings.max() - self.expected.min())
        step = (high - low) / GRID + TINY
        grid = np.interp(low + step * np.arange(GRID + 1), self.spread.nodes, self.spread.total)
        start = (readings - low) / step + 0.5  # to the nearest: ten times as fast as between
        places = start[:, None] - (self.expected / step)[None, :]
        return np.asarray(grid[places.astype(np.intp)])

    def strayed(self, share: Floats) -> Floats:
        """Return the error below which these shares of the readings lie."""
        nodes, density = self.spread.nodes, np.exp(self.spread.total)
        steps = 0.5 * (density[1:] + density[:-1]) * np.diff(nodes)
        below = np.concatenate([[0.0], np.cumsum(steps)])
        return np.asarray(np.interp(share, below / below[-1], nodes))


def next_readings(
    repeat: Repeat, exam: Exam, hearts: Hearts, times: int = 1
) -> tuple[NextReading, ...]:
    """Return what a repeat would read; nothing for what the model does not hold.

    ``times`` sweeps or windows are taken one after the other and averaged.
    """
    p = visit_constants(exam, FitOptions())
    if repeat.how == "cuff series":
        return (_cuff(exam, hearts, p),) if "SBP" in hearts else ()
    wanted = _wanted(repeat, exam, hearts)
    look = _Look(repeat.how, times, exam, p)
    return tuple(_reading(name, look, hearts) for name in wanted)


def _wanted(repeat: Repeat, exam: Exam, hearts: Hearts) -> Sequence[str]:
    """Return the first reading, and the others that the model can use and that were read."""
    first = repeat.readings[0]
    others = [
        name
        for name in repeat.readings[1:]
        if repeat.when == "missing" or value_of(exam, name) is not None
    ]
    return [name for name in (first, *others) if name in hearts]


@dataclass(frozen=True, slots=True)
class _Look:
    how: str
    times: int
    exam: Exam
    p: Constants


def _reading(name: str, look: _Look, hearts: Hearts) -> NextReading:
    truth, p = np.log(hearts[name]), look.p
    kind = KINDS["LA" if name == RATIO else name]
    value = value_of(look.exam, name)
    if value is None:
        new = parts_next(name, p, None).of_sweeps(look.times).total
        return NextReading(name, truth, table(_observation(name, kind, new), p, True))
    before = parts_read(look.exam, name, p)
    after = _renewed(parts_next(name, p, before), before, look.how).of_sweeps(look.times)
    share, sd = _common(before, after, look.how)
    off = log(value) - truth
    sound = _sound(_observation(name, kind, before.total), off, p)
    askew = _askew(name, kind, hearts)
    error = share * (off - askew)
    if look.how == "same sweep":
        expected = truth + sound * (askew + error) + (1 - sound) * off
        kind = replace(kind, has_angle=False)
    else:
        expected = truth + sound * error
    return NextReading(name, expected, table(_observation(name, kind, sd), p, True))


def _renewed(after: Parts, before: Parts, how: str) -> Parts:
    """Return the parts of the next reading: the acquisition of one sweep stays."""
    return replace(after, acquisition=before.acquisition) if how == "same sweep" else after


def _common(before: Parts, after: Parts, how: str) -> tuple[float, float]:
    """Return the share of the old error that comes again, and the sd of what is new."""
    kept, total = before.kept(how), max(before.total, 1e-6)
    share = kept**2 / total**2
    return share, sqrt(max(after.total**2 - kept**4 / total**2, 1e-6))


def _sound(read: Observation, off: Floats, p: Constants) -> Floats:
    """Return the probability in every heart that the old reading is no fault."""
    made = table(read, p, True)
    return np.asarray(np.interp(off, made.nodes, made.rows[0] + made.rows[1]))


def _askew(name: str, kind: Kind, hearts: Hearts) -> Floats:
    """Return the log of what the old beam's angle left of the speed; 0 for other readings."""
    angle = hearts.get(f"angle:{name}") if kind.has_angle else None
    if angle is None:
        return np.zeros(len(hearts[name]))
    return np.asarray(np.log(np.cos(np.radians(np.minimum(angle, LARGEST_ANGLE_DEG)))))


def _cuff(exam: Exam, hearts: Hearts, p: Constants) -> NextReading:
    """Return a cuff series: four readings that count, its systematic error as before."""
    floor = p["cuff.systematic_mmHg"]
    new = cuff_sd_mmHg(KEPT_READINGS, p)
    kind = Kind("SBP", "cuff")
    cuff = exam.visit.systolic_pressure_mmHg
    if cuff is None:
        return NextReading(CUFF, hearts["SBP"], table(_observation(CUFF, kind, new), p, True))
    old = cuff_sd_mmHg(exam.visit.systolic_pressure_readings, p)
    kept = min(floor, old)
    off = cuff - hearts["SBP"]
    sound = _sound(_observation(CUFF, kind, old), off, p)
    sd = sqrt(max(new**2 - kept**4 / old**2, 1.0))
    expected = hearts["SBP"] + sound * kept**2 / old**2 * off
    return NextReading(CUFF, expected, table(_observation(CUFF, kind, sd), p, True))


def _observation(name: str, kind: Kind, sd: float) -> Observation:
    return Observation(
        name=name,
        quantity=name,
        kind=kind,
        given=0.0,
        value=0.0,
        sd=hypot(sd, 1e-4),
        is_linear=name == CUFF,
    )
