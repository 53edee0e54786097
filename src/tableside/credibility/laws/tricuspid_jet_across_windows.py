"""Of several tricuspid jets the fastest complete envelope is the one to use.

A beam off the jet only reads low, so a slower jet from another window is no vote against a
faster one (row 3 of the rule table; at least three windows are advised).

Sources: common practice; scatter against a catheter grows with pressure [soydan2015].
"""

from math import log

from tableside.credibility.evidence import of_measurement
from tableside.credibility.fault import probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam

FAULT_SPREAD = 0.4  # log speed of a jet read off axis, with a cut top or of another flow
MODEL_SPREAD = 0.04  # two windows of one jet, well aligned; log speed; design


def judge(exam: Exam) -> Judgement | str:
    """Compare the tricuspid jet relied on with the fastest complete one."""
    jets = [of_measurement(one) for one in exam.all("TR_Vmax")]
    relied = jets[0]
    complete = [jet for jet in jets if not jet.is_lower_bound]
    if len({jet.files for jet in jets}) < 2 or not complete:
        return (
            f"Tricuspid jet {relied.value:.2f} m/s from one window only; the fastest complete "
            "envelope of three windows is the one to rely on."
        )
    fastest = max(complete, key=lambda jet: (jet.value, jet.files))
    short = max(0.0, log(fastest.value / relied.value))
    sd = (relied.share_jet**2 + fastest.share_jet**2 + MODEL_SPREAD**2) ** 0.5
    wrong = probability_wrong(short, sd, FAULT_SPREAD)
    message = (
        f"Tricuspid jet {relied.value:.2f} m/s; the fastest complete envelope of {len(jets)} "
        f"is {fastest.value:.2f} m/s"
    )
    if short > 0:
        message += (
            f": {short / sd:.1f} SD, {4 * (fastest.value**2 - relied.value**2):.0f} mmHg "
            "apart. A beam off the jet only reads low; use the fastest."
        )
    else:
        message += ": it is the one relied on."
    files = tuple(dict.fromkeys(file for jet in jets for file in jet.files))
    return Judgement(
        wrong=wrong, unusable=wrong, message=message, manoeuvre="tricuspid-jet", files=files
    )


LAW = Law(
    id="tricuspid-jet-across-windows",
    about=("TR_Vmax",),
    needs=(),
    judge=judge,
    sources=("soydan2015",),
)
