"""What one reading says of its true value: a table over their difference, a row an explanation.

Every way to be right or wrong is a density of the difference reading less truth alone, so one
table serves all draws. A beam off axis only lowers a reading; the angle is integrated out
here, which keeps the density smooth. Row 0: sound; row 1: sound but for a beam off axis by
more than is usable; then one row a fault.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import asinh, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.observations import Observation
from tableside.credibility.exam_model.settings import (
    Constants,
    FaultKind,
    fault_kinds,
    scale_slips,
)

Floats = NDArray[np.float64]
NODES = 641
REACH = 4.0  # logs; a factor of 55
REACH_MMHG = 400.0
ANGLE_STEP_DEG = 0.5
OFF_AXIS = "angle"
LEAST = 1e-300


@dataclass(frozen=True, slots=True)
class Table:
    """Log densities over the difference of reading and truth.

    ``total`` is the log density of all rows; ``rows`` the share of each row in it; ``sound``
    the log density of the sound rows alone, with its slope and curvature.
    """

    nodes: Floats
    total: Floats
    faulty: Floats
    rows: Floats
    kinds: tuple[str, ...]
    faults: tuple[FaultKind, ...]
    sound: Floats
    slope: Floats
    curvature: Floats
    angles_deg: Floats
    angle_cdf: Floats

    def log_density(self, off: Floats) -> Floats:
        """Return the log density of the reading, right or wrong."""
        return np.interp(off, self.nodes, self.total)

    def log_sound(self, off: Floats) -> Floats:
        """Return the log density of a sound reading."""
        return np.interp(off, self.nodes, self.sound)


def table(one: Observation, p: Constants, with_faults: bool) -> Table:
    """Return the table of an observation; equal ones are made once."""
    faults = fault_kinds(one.kind.family) if with_faults else ()
    if with_faults and one.alone and one.kind.family not in ("cuff", "weight"):
        faults += tuple(
            FaultKind(slip.kind, slip.share, slip.shift, 0.03) for slip in scale_slips()
        )
    angle = (p["angle.slope_deg"], p["angle.cube_deg"], p["angle.largest_deg"])
    return _table(
        one.sd,
        (*angle, p["angle.usable_deg"]) if one.kind.has_angle else (),
        one.is_bound,
        one.is_linear,
        faults,
    )


@lru_cache(maxsize=512)
def _table(
    sd: float,
    angle: tuple[float, ...],
    is_bound: bool,
    is_linear: bool,
    faults: Sequence[FaultKind],
) -> Table:
    nodes = _nodes(sd, REACH_MMHG if is_linear else REACH)
    degrees, weight = _angles(*angle[:3]) if angle else (np.zeros(1), np.ones(1))
    each = _by_angle(nodes, degrees, sd, is_bound) * weight
    usable = degrees <= (angle[3] if angle else 90.0)
    fine, oblique = each[:, usable].sum(1), each[:, ~usable].sum(1)
    if is_bound and angle:
        nearest = log(np.cos(np.radians(angle[3])))
        far = normal_cdf((nearest - nodes) / sd)
        fine, oblique = (fine + oblique) * (1 - far), (fine + oblique) * far
    sound_share = 1 - sum(one.share for one in faults)
    rows = [sound_share * fine, sound_share * oblique]
    rows += [one.share * _fault(nodes, one, sd, is_bound) for one in faults]
    stacked = np.maximum(np.array(rows), LEAST)
    total = stacked.sum(0)
    sound = _fallen(nodes, np.log(np.maximum(fine + oblique, LEAST)), sd)
    slope = np.gradient(sound, nodes)
    return Table(
        nodes=nodes,
        total=np.log(total) if faults else sound,
        faulty=np.log(np.maximum(stacked[2:].sum(0), LEAST)),
        rows=stacked / total,
        kinds=("", OFF_AXIS, *(one.kind for one in faults)),
        faults=tuple(faults),
        sound=sound,
        slope=slope,
        curvature=np.gradient(slope, nodes),
        angles_deg=degrees,
        angle_cdf=_cumulative(each),
    )


def _nodes(sd: float, reach: float) -> Floats:
    """Return nodes that lie close near 0 and wide far off, about in steps of the sd."""
    reach = max(reach, 8 * sd)
    return np.asarray(sd * np.sinh(np.linspace(-1, 1, NODES) * asinh(reach / sd)))


@lru_cache(maxsize=8)
def _angles(slope: float, cube: float, largest: float) -> tuple[Floats, Floats]:
    """Return beam angles in degrees and the prior weight of each."""
    degrees = np.arange(ANGLE_STEP_DEG / 2, largest, ANGLE_STEP_DEG)
    t = np.linspace(0.0, 8.0, 8001)
    at = np.interp(degrees, slope * t + cube * t**3, t)
    weight = np.exp(-0.5 * at**2) / (slope + 3 * cube * at**2)
    return degrees, weight / weight.sum()


def _by_angle(nodes: Floats, degrees: Floats, sd: float, is_bound: bool) -> Floats:
    z = (nodes[:, None] - np.log(np.cos(np.radians(degrees)))) / sd
    if is_bound:
        return normal_cdf(-z)
    return np.asarray(np.exp(-0.5 * z**2) / (sd * sqrt(2 * pi)))


def _fault(nodes: Floats, fault: FaultKind, sd: float, is_bound: bool) -> Floats:
    if is_bound:
        return np.full_like(nodes, 0.5)  # a wrong number bounds nothing
    broad = sqrt(fault.sd**2 + sd**2)
    z = (nodes - fault.off) / broad
    density = np.exp(-0.5 * z**2) / (broad * sqrt(2 * pi))
    if fault.is_low:
        density = 2 * density * normal_cdf(-z * fault.sd / sd)
    return np.asarray(density)


def _fallen(nodes: Floats, log_density: Floats, sd: float) -> Floats:
    """Let a log density go on falling where the density is too small to be held."""
    held = log_density > log(LEAST) + 20
    if held.all() or not held.any():
        return log_density
    first, last = np.flatnonzero(held)[[0, -1]]
    past = np.maximum(nodes[first] - nodes, 0) + np.maximum(nodes - nodes[last], 0)
    inside = np.interp(nodes, nodes[held], log_density[held])
    return np.asarray(inside - 30 * past / sd - 0.5 * (past / sd) ** 2)


def _cumulative(each: Floats) -> Floats:
    summed = np.cumsum(each, axis=1)
    return np.asarray(summed / np.maximum(summed[:, -1:], LEAST))


def normal_cdf(z: Floats) -> Floats:
    """Return the normal distribution function (Abramowitz and Stegun 26.2.17, 1e-7)."""
    t = 1 / (1 + 0.2316419 * np.abs(z))
    series = (0.319381530, -0.356563782, 1.781477937, -1.821255978, 1.330274429)
    tail = np.exp(-0.5 * np.minimum(z**2, 1400.0)) / sqrt(2 * pi)
    tail = tail * sum(c * t**k for k, c in enumerate(series, 1))
    return np.asarray(np.where(z >= 0, 1 - tail, tail))
