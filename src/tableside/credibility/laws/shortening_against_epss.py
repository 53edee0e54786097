"""A ventricle that shortens well opens its mitral valve close to the septum, and the reverse.

Row 14 of the rule table. EPSS is small (6 mm or less) where FS is 35 % or more, unless the
valve itself or the aortic valve is diseased; the law carries little weight since EPSS is not
well repeatable. Giant dogs reach 10 to 12 mm.

Sources: 6 mm [nelsoncouto6]; 10 to 12 mm in giant breeds [koch1996]; repeatability
[kennedy2026]; weights are a design choice.
"""

from math import hypot

from tableside.credibility.evidence import files_of, numbers, seen
from tableside.credibility.fault import probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam, Species

NORMAL_MM, GIANT_MM, GIANT_KG = 6.0, 11.0, 45.0
GOOD_FS, POOR_FS, FS_SPREAD = 35.0, 20.0, 2.0
SMALL_MM = 4.0
MODEL_MM = 1.5
FAULT_MM = 5.0


def judge(exam: Exam) -> Judgement | str:
    """Compare the separation with the shortening."""
    gap, shortening = numbers(exam, "EPSS", "FS")
    if seen(exam, "AR_Vmax") is not None:
        return "Aortic regurgitation holds the mitral valve back; the two need not agree."
    gap_mm = 10 * gap.value
    weight = exam.patient.weight_kg or 0.0
    limit = GIANT_MM if weight >= GIANT_KG else NORMAL_MM
    sd = hypot(MODEL_MM, gap.share * min(gap_mm, limit))  # were it as it should be
    off = 0.0
    if shortening.value >= GOOD_FS:
        off = max(0.0, gap_mm - limit)
    elif shortening.value <= POOR_FS:
        off = min(0.0, gap_mm - SMALL_MM)
    wrong = probability_wrong(off, sd, FAULT_MM)
    message = f"EPSS {gap_mm:.1f} mm with FS {shortening.value:.0f} %"
    if off > 0:
        message += (
            f": {off:.1f} mm ({off / sd:.1f} SD) above the {limit:g} mm of a well shortening "
            "ventricle. Likely, in order: an oblique M-line; not at the leaflet tips; valve "
            "disease."
        )
    elif off < 0:
        message += (
            f": {-off:.1f} mm ({-off / sd:.1f} SD) below the {SMALL_MM:g} mm expected of a "
            "poorly shortening ventricle. Likely, in order: FS from another level; an "
            "oblique M-line."
        )
    else:
        message += ": no conflict."
    return Judgement(
        wrong=wrong,
        unusable=0.8 * wrong,
        message=message,
        manoeuvre="epss",
        files=files_of(gap, shortening),
    )


LAW = Law(
    id="shortening-against-epss",
    about=("EPSS", "FS"),
    needs=("FS",),
    judge=judge,
    sources=("nelsoncouto6", "koch1996", "kennedy2026"),
    species=Species.DOG,
)
