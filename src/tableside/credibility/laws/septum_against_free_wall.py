"""Septum and free wall are about equally thick in diastole.

Row 12 of the rule table: IVSd over LVPWd lies between 0.75 and 1.3. Above it a right
ventricular trabecula is usually in the septum, below it a papillary muscle in the free wall.

Sources: common practice.
"""

from math import hypot, log

from tableside.credibility.evidence import files_of, numbers, ratio_share
from tableside.credibility.fault import DOUBTFUL, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam

LOW, HIGH = 0.75, 1.3
CENTRE = 0.5 * (log(LOW) + log(HIGH))
MODEL_SPREAD = (log(HIGH) - log(LOW)) / 2 / 2.5  # the limits lie at 2.5 SD
FAULT_SPREAD = 0.5


def judge(exam: Exam) -> Judgement | str:
    """Compare septum and free wall."""
    septum, wall = numbers(exam, "IVSd", "LVPWd")
    ratio = septum.value / wall.value
    off = log(ratio) - CENTRE
    sd = hypot(MODEL_SPREAD, ratio_share(septum, wall))
    wrong = probability_wrong(off, sd, FAULT_SPREAD)
    message = (
        f"Septum {septum.value:.2f} cm, free wall {wall.value:.2f} cm: ratio {ratio:.2f}, "
        f"usual {LOW:g} to {HIGH:g}"
    )
    is_high = off > 0
    if wrong >= DOUBTFUL:
        causes = (
            "a right ventricular trabecula in the septum; M-line too high; true septal disease"
            if is_high
            else "a papillary muscle in the free wall; an oblique M-line; a thin septum"
        )
        message += f" ({abs(off) / sd:.1f} SD). Likely, in order: {causes}."
    else:
        message += "."
    return Judgement(
        wrong=wrong,
        unusable=0.8 * wrong,
        message=message,
        manoeuvre="m-mode-level",
        about=("IVSd", "LVPWd") if is_high else ("LVPWd", "IVSd"),
        files=files_of(septum, wall),
    )


LAW = Law(
    id="septum-against-free-wall",
    about=("IVSd", "LVPWd"),
    needs=("LVPWd",),
    judge=judge,
    sources=(),
)
