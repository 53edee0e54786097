"""A large regurgitant fraction goes with a large atrium and ventricle.

Row 18 of the rule table, a coarse check: a fraction of 50 % or more goes with LA:Ao of 1.6
and LVIDDN of 1.7 or more; smaller ones leave the sizes normal. The fraction itself may change
by 28 to 88 % from one examination to the next, so it decides little.

Sources: 57 dogs [larouchelebel2019]; critical change [loughran2020].
"""

from math import hypot

from tableside.credibility.evidence import Seen, files_of, numbers, seen
from tableside.credibility.fault import DOUBTFUL, normal_cdf
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam, Species

LARGE_FRACTION, LARGE_ATRIUM, LARGE_VENTRICLE = 0.5, 1.6, 1.7
FRACTION_SPREAD = 0.12  # between examinations, absolute; loughran2020, the smaller figure
DISSOCIATED = 0.15  # share of dogs with a large fraction and neither chamber large; design


def judge(exam: Exam) -> Judgement | str:
    """Ask whether a large regurgitant fraction stands beside two normal chambers."""
    outflow, atrium, chamber = numbers(exam, "SV", "LA:Ao", "LVIDDN")
    full, empty = _volumes(exam)
    if full is None or empty is None:
        return "Not recorded: the volume of the left ventricle in diastole and systole."
    stroke = full.value - empty.value
    if stroke <= 0:
        return "The ventricle does not shrink by these volumes; see systole-below-diastole."
    fraction = 1 - outflow.value / stroke
    sd = hypot(FRACTION_SPREAD, (1 - fraction) * outflow.share)
    large = normal_cdf((fraction - LARGE_FRACTION) / sd)
    small = _below(atrium, LARGE_ATRIUM) * _below(chamber, LARGE_VENTRICLE)
    wrong = large * small * (1 - DISSOCIATED)
    message = (
        f"Regurgitant fraction {100 * max(fraction, 0.0):.0f} ± {100 * sd:.0f} %; {atrium}, "
        f"{chamber}"
    )
    if wrong >= DOUBTFUL:
        message += (
            ": half or more should enlarge both. Likely, in order: outflow diameter too "
            "small; ventricular volume too large; a recent rupture of chordae."
        )
    else:
        message += ": no conflict."
    return Judgement(
        wrong=wrong,
        unusable=0.7 * wrong,
        message=message,
        manoeuvre="outflow-diameter",
        about=("SV", full.name, empty.name),
        files=files_of(outflow, full, empty),
    )


def _below(one: Seen, cut: float) -> float:
    return normal_cdf((cut - one.value) / max(one.sd, 1e-9))


def _volumes(exam: Exam) -> tuple[Seen | None, Seen | None]:
    return seen(exam, "EDV"), seen(exam, "ESV")


LAW = Law(
    id="regurgitation-against-size",
    about=("SV", "EDV", "ESV"),
    needs=("MR_Vmax", "LA:Ao", "LVIDDN", "EDV", "ESV", "SV"),
    judge=judge,
    sources=("larouchelebel2019", "loughran2020"),
    species=Species.DOG,
    concerns=("EDV",),
)
