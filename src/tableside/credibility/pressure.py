"""What is known of the pressures before any jet is looked at.

Systolic pressure: dogs at a visit 140 ± 20 mmHg (design, docs/checks.md); under sedation
lower and wider. A cuff adds a systematic error of 10 and 19 mmHg a reading: 21 for one
reading, 15 for three, 13 for five (repeatability 25 to 39 mmHg, wernick2012; limits of
agreement 26 mmHg, domingues2022). Left atrial pressure: 8 mmHg with a normal atrium, rising
to 20 with a large one (kittlesoncases; design).
"""

from dataclasses import dataclass
from math import exp, hypot, log, sqrt

from tableside.credibility.evidence import seen
from tableside.model import Exam, Species

CUFF_SYSTEMATIC_MMHG = 10.0
CUFF_READING_MMHG = 19.0
CUFF_UNKNOWN_MMHG = 15.0  # a number of readings that was not noted
AWAKE_MMHG = (140.0, 20.0)
SEDATED_MMHG = (120.0, 25.0)
NOT_SEDATED = {"", "none", "no", "unsedated", "not sedated"}

LAP_UNKNOWN_MMHG, LAP_UNKNOWN_SPREAD = 11.0, 0.5
LAP_SMALLEST_MMHG, LAP_LARGEST_MMHG, LAP_SPREAD = 8.0, 20.0, 0.45
RAP_MMHG, RAP_FAILURE_MMHG, RAP_SD_MMHG = 5.0, 15.0, 3.0  # csaim


@dataclass(frozen=True, slots=True)
class Pressure:
    """A pressure as a normal or lognormal belief: centre in mmHg, and spread."""

    centre: float
    spread: float


def cuff_sd_mmHg(readings: int | None) -> float:
    """Return the sd of the mean of a cuff series."""
    if readings is None or readings < 1:
        return CUFF_UNKNOWN_MMHG
    return hypot(CUFF_SYSTEMATIC_MMHG, CUFF_READING_MMHG / sqrt(readings))


def systolic_before_cuff(exam: Exam) -> Pressure:
    """Return the belief about the systolic pressure before the cuff is read (normal)."""
    sedation = (exam.visit.sedation or "none").strip().lower()
    return Pressure(*(AWAKE_MMHG if sedation in NOT_SEDATED else SEDATED_MMHG))


def systolic(exam: Exam) -> Pressure | None:
    """Return the systolic pressure with the cuff taken into account, or None without one."""
    cuff = exam.visit.systolic_pressure_mmHg
    if cuff is None:
        return None
    before = systolic_before_cuff(exam)
    cuff_sd = cuff_sd_mmHg(exam.visit.systolic_pressure_readings)
    weight, weight_before = cuff_sd**-2, before.spread**-2
    centre = (cuff * weight + before.centre * weight_before) / (weight + weight_before)
    return Pressure(centre, (weight + weight_before) ** -0.5)


def left_atrial(exam: Exam) -> Pressure:
    """Return the left atrial pressure (lognormal: median in mmHg, sd of its log).

    The median climbs from 8 to 20 mmHg as LA:Ao goes from 1.5 to 2.5 or E from 0.9 to
    1.5 m/s in a dog; it stays wide where neither is known, and in a cat.
    """
    atrium, inflow = seen(exam, "LA:Ao"), seen(exam, "E")
    if exam.patient.species is Species.CAT or (atrium is None and inflow is None):
        return Pressure(LAP_UNKNOWN_MMHG, LAP_UNKNOWN_SPREAD)
    climbs = []
    if atrium is not None:
        climbs.append(atrium.value - 1.5)
    if inflow is not None:
        climbs.append((inflow.value - 0.9) / 0.6)
    climb = min(max(0.0, *climbs), 1.0) if len(climbs) > 1 else min(max(0.0, climbs[0]), 1.0)
    reach = log(LAP_LARGEST_MMHG / LAP_SMALLEST_MMHG)
    return Pressure(LAP_SMALLEST_MMHG * exp(climb * reach), LAP_SPREAD)


def right_atrial_mmHg(exam: Exam) -> float:
    """Return the right atrial pressure that is added to a tricuspid gradient."""
    return RAP_FAILURE_MMHG if exam.visit.ascites else RAP_MMHG
