r"""Without a shunt the right and the left heart pump the same.

.. math:: SV = \frac{\pi}{4} D^2 \, VTI

Rows 10 and 21 of the rule table. Healthy dogs differ by -0.85 to 0.64 mL/kg between the two
sites. The main pulmonary artery stands in for the annulus, which adds 20 %.

Sources: 90 healthy dogs (svsites, docs/checks.md); formula [quinones2002].
"""

from math import hypot, pi

from tableside.credibility.evidence import Seen, files_of, numbers, seen
from tableside.credibility.fault import DOUBTFUL, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam

CENTRE_ML_KG, SPREAD_ML_KG = -0.105, 0.38  # of -0.85 to 0.64, taken as 95 %; computed
TRUNK_SHARE = 0.20
FAULT_ML_KG = 1.5


def judge(exam: Exam) -> Judgement | str:
    """Compare the stroke volumes of the pulmonic and the aortic valve."""
    trunk, pulmonic, aortic = numbers(exam, "PAd", "PV_VTI", "AV_VTI")
    outlet, weight = seen(exam, "LVOTd") or seen(exam, "AoAnn"), exam.patient.weight_kg
    if outlet is None or not weight:
        return "Not recorded: LVOTd or AoAnn."
    right, left = (_volume(trunk, pulmonic), _volume(outlet, aortic))
    right_sd = right * hypot(2 * trunk.share, pulmonic.share, TRUNK_SHARE)
    left_sd = left * hypot(2 * outlet.share, aortic.share)
    off = (right - left) / weight - CENTRE_ML_KG
    sd = hypot(SPREAD_ML_KG, right_sd / weight, left_sd / weight)
    wrong = probability_wrong(off, sd, FAULT_ML_KG)
    message = (
        f"Stroke volume {right:.0f} mL at the pulmonic and {left:.0f} mL at the aortic valve "
        f"({right / left:.2f} to 1)"
    )
    if wrong >= DOUBTFUL:
        message += (
            f": {abs(off) * weight:.0f} mL, {abs(off) / sd:.1f} SD from what healthy dogs "
            "show. Likely, in order: a diameter; beats of different length; a shunt."
        )
    else:
        message += ": no conflict."
    return Judgement(
        wrong=wrong,
        unusable=0.5 * wrong,
        message=message,
        manoeuvre="outflow-diameter",
        about=("PV_VTI", "PAd", "AV_VTI", outlet.name),
        files=files_of(pulmonic, trunk, aortic, outlet),
    )


def _volume(diameter: Seen, integral: Seen) -> float:
    return pi / 4 * diameter.value**2 * integral.value


LAW = Law(
    id="pulmonic-against-aortic-flow",
    about=("PV_VTI", "PAd", "AV_VTI", "LVOTd"),
    needs=("PAd", "AV_VTI", "weight"),
    judge=judge,
    sources=("svsites", "quinones2002"),
)
