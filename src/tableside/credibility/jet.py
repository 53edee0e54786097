"""Weigh a jet against the pressures that drive it.

The true jet is ``sqrt((pressure before - pressure behind) / 4)``. The beam crosses it at an
angle, which only lowers the reading; the reading may also be of something else. The angle is
integrated out on a grid, so that the answer is smooth and one-sided.

Sources: simplified Bernoulli relation [hatle]; angle of the beam 12 |t| + 2 |t|^3 degrees
with t standard normal (14 degrees at 1 SD, 40 at 2; a design choice, docs/checks.md).
"""

from dataclasses import dataclass
from functools import cache
from math import acos, cos, degrees, log, pi, radians, sqrt

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.pressure import Pressure

Floats = NDArray[np.float64]

USABLE_ANGLE_DEG = 30.0  # beyond it more than 13 % of the speed is lost
LAW_SPREAD = 0.04  # Bernoulli 5 % of the pressure and broadening of the spectrum 3 %; log speed
JET_FAULT = 0.08  # wrong structure, incomplete envelope, scale
CUFF_FAULT = 0.05
FAULTY_CUFF_MMHG = 45.0
READS_LOW, READS_LOW_SPREAD = 0.85, 0.6  # most faults lose speed; log speed
READS_HIGH_SPREAD = 0.3  # gain, mirror, scale
LOWEST_DRIVE_MMHG = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class JetEvidence:
    """What is known about one jet. Speeds in m/s, pressures in mmHg."""

    jet_m_s: float
    jet_share: float  # sd of the reading as a share of it
    is_lower_bound: bool
    before: Pressure  # normal belief about the driving pressure, without the cuff
    behind: Pressure  # lognormal belief: median, sd of the log
    cuff_mmHg: float
    cuff_sd_mmHg: float
    added_mmHg: float = 0.0  # gradient across an outflow obstruction
    added_sd_mmHg: float = 0.0


@dataclass(frozen=True, slots=True)
class JetBelief:
    """What the evidence says of the jet and of the cuff."""

    unusable: float  # wrong, or read at more than 30 degrees
    cuff_wrong: float


def weigh_jet(evidence: JetEvidence) -> JetBelief:
    """Weigh angle, fault of the jet and fault of the cuff against each other.

    Notes
    -----
    Every combination of systolic pressure, pressure behind the valve and beam angle on a
    grid is one explanation. An incomplete envelope says only that the jet was at least as
    fast. A jet counts as unusable when it is wrong or reads low by more than an angle of
    30 degrees would make it.
    """
    before, cuff_fine, cuff_faulty = _systolic_grid(evidence)
    behind, behind_weight = _behind_grid(evidence.behind)
    angle_deg, angle_weight = _angle_grid()
    drive = np.maximum(
        before[:, None] + evidence.added_mmHg - behind[None, :], LOWEST_DRIVE_MMHG
    )
    short = log(evidence.jet_m_s) - 0.5 * np.log(drive / 4.0)
    lost = np.log(np.cos(np.radians(angle_deg)))
    spread = _reading_spread(evidence, drive)
    aligned = _likelihood(short[..., None] - lost, spread[..., None], evidence) * angle_weight
    usable = aligned[..., angle_deg <= USABLE_ANGLE_DEG].sum(-1)
    if evidence.is_lower_bound:
        usable = _usable_bound(short, spread) * aligned.sum(-1)
    oblique = aligned.sum(-1) - usable
    wrong = _fault_density(short)
    rows = cuff_fine + cuff_faulty
    weigh = rows[:, None] * behind_weight[None, :]
    fine = (1 - JET_FAULT) * float((weigh * usable).sum())
    bad = float((weigh * ((1 - JET_FAULT) * oblique + JET_FAULT * wrong)).sum())
    all_jets = (1 - JET_FAULT) * (usable + oblique) + JET_FAULT * wrong
    cuff = float((cuff_faulty[:, None] * behind_weight[None, :] * all_jets).sum())
    total = max(fine + bad, 1e-300)
    return JetBelief(unusable=bad / total, cuff_wrong=cuff / total)


def expected_m_s(drive_mmHg: float) -> float:
    """Return the speed of a jet that a pressure difference drives."""
    return sqrt(max(drive_mmHg, LOWEST_DRIVE_MMHG) / 4.0)


def angle_needed_deg(jet_m_s: float, expected: float) -> float | None:
    """Return the beam angle that would make the expected jet read this low, or None."""
    return degrees(acos(jet_m_s / expected)) if 0 < jet_m_s < expected else None


def share_lost(angle_deg: float) -> float:
    """Return the share of the speed that a beam at this angle does not see."""
    return 1.0 - cos(radians(angle_deg))


def _systolic_grid(evidence: JetEvidence) -> tuple[Floats, Floats, Floats]:
    grid = np.arange(30.0, 301.0, 3.0)
    before = evidence.before
    prior = _normal(grid - before.centre, before.spread)
    off = grid - evidence.cuff_mmHg
    fine = (1 - CUFF_FAULT) * prior * _normal(off, evidence.cuff_sd_mmHg)
    faulty = CUFF_FAULT * prior * _normal(off, FAULTY_CUFF_MMHG)
    return grid, fine, faulty


def _behind_grid(behind: Pressure) -> tuple[Floats, Floats]:
    steps = np.linspace(-2.5, 2.5, 11)
    weight = np.exp(-0.5 * steps**2)
    return behind.centre * np.exp(steps * behind.spread), weight / weight.sum()


@cache
def _angle_grid() -> tuple[Floats, Floats]:
    t = np.linspace(0.0, 3.2, 161)
    weight = np.exp(-0.5 * t**2)
    return np.minimum(12 * t + 2 * t**3, 85.0), weight / weight.sum()


def _reading_spread(evidence: JetEvidence, drive: Floats) -> Floats:
    added = 0.5 * evidence.added_sd_mmHg / drive
    return np.sqrt(LAW_SPREAD**2 + evidence.jet_share**2 + added**2)


def _likelihood(off: Floats, spread: Floats, evidence: JetEvidence) -> Floats:
    if not evidence.is_lower_bound:
        return _normal(off, spread)
    return _cdf(-off / spread)


def _usable_bound(short: Floats, spread: Floats) -> Floats:
    """Return the chance that a lower bound lies close enough under the true jet."""
    nearest = log(cos(radians(USABLE_ANGLE_DEG)))
    return _cdf((short - nearest) / spread)


def _fault_density(short: Floats) -> Floats:
    low = READS_LOW * 2 * _normal(short, READS_LOW_SPREAD)
    high = (1 - READS_LOW) * 2 * _normal(short, READS_HIGH_SPREAD)
    return np.where(short < 0, low, high)


def _normal(off: Floats, sd: float | Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * (off / sd) ** 2) / (sd * sqrt(2 * pi)))


def _cdf(z: Floats) -> Floats:
    """Return the normal distribution function (Abramowitz and Stegun 26.2.17, 1e-7)."""
    t = 1 / (1 + 0.2316419 * np.abs(z))
    series = (0.319381530, -0.356563782, 1.781477937, -1.821255978, 1.330274429)
    tail = np.exp(-0.5 * z**2) / sqrt(2 * pi) * sum(c * t**k for k, c in enumerate(series, 1))
    return np.asarray(np.where(z >= 0, 1 - tail, tail))
