"""A fast early inflow comes out of a full atrium.

Row 17 of the rule table: E above 1.2 to 1.3 m/s with LA:Ao below 1.3 does not fit. E is 0.76
m/s (SD 0.15) with a normal atrium and rises with its size to 1.3 m/s at LA:Ao 2.0.

Sources: normal E [schober2001flow] (memory); E > 1.2 and LA:Ao > 1.7 together
[borgarelli2008]; the slope between is a design choice.
"""

from math import hypot

from tableside.credibility.evidence import files_of, numbers
from tableside.credibility.fault import DOUBTFUL, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam, Species

NORMAL_M_S, NORMAL_SD_M_S = 0.76, 0.17
NORMAL_RATIO, SLOPE_M_S = 1.3, 0.77
FAULT_M_S = 0.6


def judge(exam: Exam) -> Judgement | str:
    """Compare E with what an atrium of this size lets expect; only too fast is a conflict."""
    inflow, atrium = numbers(exam, "E", "LA:Ao")
    climb = max(0.0, atrium.value - NORMAL_RATIO)
    expected = NORMAL_M_S + SLOPE_M_S * climb
    sd = hypot(NORMAL_SD_M_S, SLOPE_M_S * atrium.sd, inflow.sd)
    over = max(0.0, inflow.value - expected)
    wrong = probability_wrong(over, sd, FAULT_M_S)
    message = f"E {inflow.value:.2f} m/s with LA:Ao {atrium.value:.2f}"
    if wrong >= DOUBTFUL:
        message += (
            f": {over:.2f} m/s ({over / sd:.1f} SD) faster than such an atrium lets expect. "
            "Likely, in order: LA:Ao too small (phase, oblique aorta); E and A fused; an "
            "acute leak; anaemia or fever."
        )
    else:
        message += ": no conflict."
    return Judgement(
        wrong=wrong,
        unusable=0.5 * wrong,
        message=message,
        manoeuvre="left-atrium",
        about=("LA:Ao", "E"),
        files=files_of(inflow, atrium),
    )


LAW = Law(
    id="atrium-against-inflow",
    about=("E", "LA:Ao"),
    needs=("LA:Ao",),
    judge=judge,
    sources=("schober2001flow", "borgarelli2008"),
    species=Species.DOG,
)
