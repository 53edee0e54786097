"""One heart has one rate, give or take its sinus rhythm.

Row 11 of the rule table: rates of two images agree within 15 %. A ratio near 2, a half or
4/3 speaks for the time scale or for a beat counted twice.

Sources: a design choice (docs/checks.md); sinus rhythm of dogs varies with breath.
"""

from math import hypot, log
from statistics import median

from tableside.credibility.evidence import from_log
from tableside.credibility.fault import DOUBTFUL, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.credibility.laws.heart_rate import Rate, rates
from tableside.model import Exam

TOLERANCE = 0.15
RHYTHM_SPREAD = 0.08  # log rate of one image around the visit's; half the tolerance
FAULT_SPREAD = 0.5
KNOWN_RATIOS = (2.0, 0.5, 4 / 3, 0.75)


def judge(exam: Exam) -> Judgement | None:
    """Compare the rate of each image with the median of the others."""
    found = rates(exam)
    if len(found) < 2:
        return None
    odd, off, sd = max((_odd(one, found) for one in found), key=lambda each: abs(each[1]))
    wrong = probability_wrong(off, sd, FAULT_SPREAD)
    others = median(one.value for one in found if one is not odd)
    message = (
        f"Heart rate {odd.value:.0f}/min on {odd.file} and {others:.0f}/min on "
        f"{len(found) - 1} other image{'s' if len(found) > 2 else ''}"
    )
    if wrong >= DOUBTFUL:
        message += f": {abs(off) / sd:.1f} SD apart. {_causes(from_log(off))}"
    else:
        message += ": they agree."
    return Judgement(
        wrong=wrong,
        unusable=wrong if len(found) > 2 else 0.5 * wrong,
        message=message,
        manoeuvre="sweep-scale",
        files=(odd.file,),
    )


def _odd(one: Rate, found: tuple[Rate, ...]) -> tuple[Rate, float, float]:
    others = median(other.value for other in found if other is not one)
    sd = hypot(RHYTHM_SPREAD, RHYTHM_SPREAD / (len(found) - 1) ** 0.5, one.share)
    return one, log(one.value / others), sd


def _causes(ratio: float) -> str:
    if any(abs(log(ratio / known)) < 0.06 for known in KNOWN_RATIOS):
        return (
            f"The ratio of {ratio:.2f} speaks for the time scale of that image or for beats "
            "counted twice or left out."
        )
    return "Likely, in order: excitement or an arrhythmia; the time scale; a missed beat."


LAW = Law(
    id="heart-rate-across-images",
    about=("HR",),
    needs=(),
    judge=judge,
    sources=(),
)
