r"""A ventricle that shortens strongly raises its pressure fast.

.. math:: dP/dt = 32 / t_{1 \to 3\,m/s}

Row 20 of the rule table: below 800 mmHg/s with FS above 40 % does not fit, except in severe
mitral regurgitation, which empties the ventricle whatever its strength.

Sources: [bargiggia1989]; Doppler against catheter r 0.90 in dogs [asano2002]; 800 and 40 a
design choice.
"""

from math import hypot, log

from tableside.credibility.evidence import files_of, numbers, seen
from tableside.credibility.fault import DOUBTFUL, normal_cdf, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam

LOW_MMHG_S, GOOD_FS = 800.0, 40.0
MODEL_SPREAD = 0.2
FAULT_SPREAD = 0.7
SEVERE_ATRIUM = 2.0  # LA:Ao that goes with severe regurgitation; design


def judge(exam: Exam) -> Judgement | str:
    """Ask whether a slow rise of pressure stands beside strong shortening."""
    rise, shortening = numbers(exam, "dP/dt", "FS")
    atrium = seen(exam, "LA:Ao")
    if atrium is not None and atrium.value >= SEVERE_ATRIUM:
        return "Severe mitral regurgitation keeps FS high; the two need not agree."
    sd = hypot(MODEL_SPREAD, rise.share)
    short = max(0.0, log(LOW_MMHG_S / rise.value))
    strong = normal_cdf((shortening.value - GOOD_FS) / max(shortening.sd, 0.5))
    wrong = probability_wrong(short, sd, FAULT_SPREAD) * strong
    message = f"dP/dt {rise.value:.0f} mmHg/s with FS {shortening.value:.0f} %"
    if wrong >= DOUBTFUL:
        message += (
            f": {LOW_MMHG_S - rise.value:.0f} mmHg/s ({short / sd:.1f} SD) below what such "
            "shortening lets expect. Likely, in order: the start of the slope is unclear; "
            "sweep too slow; shortening raised by the leak."
        )
    else:
        message += ": no conflict."
    return Judgement(
        wrong=wrong,
        unusable=0.8 * wrong,
        message=message,
        manoeuvre="pressure-rise",
        files=files_of(rise, shortening),
    )


LAW = Law(
    id="pressure-rise-against-shortening",
    about=("dP/dt", "FS"),
    needs=("FS",),
    judge=judge,
    sources=("bargiggia1989", "asano2002"),
)
