r"""Systolic lies above mean above diastolic pulmonary pressure, and mean follows systolic.

.. math:: P_{mean} = 0.61\,P_{sys} + 2 \qquad P = 4 v^2 + RAP

Row 5 of the rule table. The mean comes from the early peak of pulmonic regurgitation, the
diastolic pressure from its end.

Sources: 0.61 and 2, human, scatter 8 mmHg [chemla2004]; regurgitation [nelsoncouto6].
"""

from math import hypot

from tableside.credibility.evidence import Seen, files_of, seen
from tableside.credibility.fault import DOUBTFUL, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.credibility.pressure import right_atrial_mmHg
from tableside.model import Exam

SLOPE, OFFSET_MMHG, SCATTER_MMHG = 0.61, 2.0, 8.0
FAULT_MMHG = 35.0
STENOSIS_M_S = 2.2  # above this the systolic pressure in front of the valve is not the artery's


def judge(exam: Exam) -> Judgement | str:
    """Compare the pressures of the tricuspid and pulmonic regurgitation."""
    tricuspid, early, end = (seen(exam, name) for name in ("TR_Vmax", "PR_Vmax", "PR_Vend"))
    if early is None or (tricuspid is None and end is None):
        return "Needs PR_Vmax and one of TR_Vmax and PR_Vend."
    found = []
    if end is not None:
        found.append(_end_below_early(early, end))
    if tricuspid is not None and not _is_stenotic(exam):
        found.append(_mean_from_systolic(exam, tricuspid, early))
    if not found:
        return "A pulmonic stenosis parts the ventricle's pressure from the artery's."
    return max(found, key=lambda one: one.wrong)


def _is_stenotic(exam: Exam) -> bool:
    outflow = seen(exam, "PV_Vmax")
    return outflow is not None and outflow.value > STENOSIS_M_S


def _end_below_early(early: Seen, end: Seen) -> Judgement:
    over = 4 * (end.value**2 - early.value**2)
    sd = hypot(8 * end.value * end.sd_same, 8 * early.value * early.sd_same, 1.0)
    wrong = probability_wrong(max(0.0, over), sd, FAULT_MMHG / 2)
    message = (
        f"Pulmonic regurgitation {early.value:.2f} m/s early and {end.value:.2f} m/s at its end"
    )
    message += (
        ": the order is right."
        if over <= 0
        else f": the end cannot be faster ({over:.0f} mmHg, {over / sd:.1f} SD). "
        "Likely, in order: the click was read; the beam slid; the two were swapped."
    )
    return _judgement(wrong, message, (early, end))


def _mean_from_systolic(exam: Exam, tricuspid: Seen, early: Seen) -> Judgement:
    atrium = right_atrial_mmHg(exam)
    systolic = 4 * tricuspid.value**2 + atrium
    mean = 4 * early.value**2 + atrium
    expected = SLOPE * systolic + OFFSET_MMHG
    sd = hypot(
        SCATTER_MMHG, 8 * early.value * early.sd, SLOPE * 8 * tricuspid.value * tricuspid.sd
    )
    off = mean - expected
    wrong = probability_wrong(off, sd, FAULT_MMHG)
    message = (
        f"Mean pulmonary pressure {mean:.0f} mmHg from pulmonic regurgitation; {expected:.0f} "
        f"expected from the tricuspid jet ({systolic:.0f} mmHg)"
    )
    if wrong < DOUBTFUL:
        return _judgement(wrong, f"{message}: they agree.", (early, tricuspid))
    causes = (
        "the valve click was read; the tricuspid jet reads low"
        if off > 0
        else "the beam off the pulmonic jet; the tricuspid jet reads high"
    )
    message += f": {abs(off):.0f} mmHg, {abs(off) / sd:.1f} SD apart. Likely, in order: "
    return _judgement(wrong, f"{message}{causes}.", (early, tricuspid))


def _judgement(wrong: float, message: str, ones: tuple[Seen, Seen]) -> Judgement:
    return Judgement(
        wrong=wrong,
        unusable=0.6 * wrong,
        message=message,
        manoeuvre="pulmonic-regurgitation",
        about=tuple(one.name for one in ones),
        files=files_of(*ones),
    )


LAW = Law(
    id="pulmonary-pressures-order",
    about=("PR_Vmax", "PR_Vend", "TR_Vmax"),
    needs=(),
    judge=judge,
    sources=("chemla2004", "nelsoncouto6", "csaim"),
    concerns=("PR_Vmax",),
)
