r"""Heart muscle keeps its volume: the ring of wall grows as the ventricle shortens.

.. math:: A = \pi\left[(D/2 + h)^2 - (D/2)^2\right], \qquad
          \frac{A_s}{A_d} = \frac{1}{1 + e_L}, \quad h = (IVS + LVPW)/2

Row 15 of the rule table. A lengthwise shortening of 12 to 22 % makes the ratio 1.14 to 1.28;
thickness errors allow 1.02 to 1.45.

Sources: incompressible muscle; 6 % model error (design, docs/checks.md).
"""

from math import hypot, pi

from tableside.credibility.evidence import files_of, numbers, propagated_sd
from tableside.credibility.fault import DOUBTFUL, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam

CENTRE, MODEL_SD = 1.21, 0.085  # 1.14 to 1.28 and 6 % model error
LOW, HIGH = 1.02, 1.45
FAULT_SD = 0.6
NAMES = ("LVIDd", "IVSd", "LVPWd", "LVIDs", "IVSs", "LVPWs")


def judge(exam: Exam) -> Judgement | str:
    """Compare the wall area in systole with that in diastole."""
    ones = numbers(exam, *NAMES)
    ratio = area_ratio(*(one.value for one in ones))
    sd = hypot(MODEL_SD, propagated_sd(area_ratio, ones))
    off = ratio - CENTRE
    wrong = probability_wrong(off, sd, FAULT_SD)
    message = f"Wall area in systole over diastole {ratio:.2f}, expected {LOW:g} to {HIGH:g}"
    if wrong >= DOUBTFUL:
        causes = (
            "papillary muscle or trabecula in a diastolic wall; LVIDs too large; wrong phase"
            if off < 0
            else "papillary muscle or chordae in a systolic wall; LVIDs too small; wrong phase"
        )
        message += f" ({abs(off) / sd:.1f} SD). Likely, in order: {causes}."
    else:
        message += f" ({abs(off) / sd:.1f} SD from the centre)."
    return Judgement(
        wrong=wrong,
        unusable=0.4 * wrong,
        message=message,
        manoeuvre="wall-edges",
        files=files_of(*ones),
    )


def area_ratio(*lengths: float) -> float:
    """Return systolic over diastolic wall area, of the six lengths in the order of `NAMES`."""
    cavity_d, septum_d, wall_d, cavity_s, septum_s, wall_s = lengths
    return ring(cavity_s, (septum_s + wall_s) / 2) / ring(cavity_d, (septum_d + wall_d) / 2)


def ring(diameter: float, thickness: float) -> float:
    """Return the area of a ring around a round cavity."""
    return pi * ((diameter / 2 + thickness) ** 2 - (diameter / 2) ** 2)


LAW = Law(
    id="wall-area-conservation",
    about=("LVPWd", "IVSd", "LVPWs", "IVSs", "LVIDd", "LVIDs"),
    needs=NAMES,
    judge=judge,
    sources=(),
    concerns=("IVSs", "LVPWs"),
)
