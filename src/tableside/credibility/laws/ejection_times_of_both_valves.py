"""Both ventricles eject for nearly the same time.

Row 19 of the rule table: aortic and pulmonic ejection time lie within 10 to 20 ms at one rate.

Sources: common practice.
"""

from math import hypot

from tableside.credibility.evidence import files_of, of_measurement
from tableside.credibility.fault import DOUBTFUL, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam

MODEL_MS = 10.0
FAULT_MS = 50.0


def judge(exam: Exam) -> Judgement | None:
    """Compare the ejection times of the two valves."""
    by_flow = {}
    for one in reversed(list(exam.all("ET"))):
        for file in one.files:
            image = exam.image(file)
            flow = image.flow if image is not None else one.detail
            by_flow[flow] = of_measurement(one)
    aortic, pulmonic = by_flow.get("aortic outflow"), by_flow.get("pulmonic outflow")
    if aortic is None or pulmonic is None:
        return None
    off = pulmonic.value - aortic.value
    sd = hypot(MODEL_MS, pulmonic.sd, aortic.sd)
    wrong = probability_wrong(off, sd, FAULT_MS)
    message = f"Ejection time {aortic.value:.0f} ms aortic, {pulmonic.value:.0f} ms pulmonic"
    if wrong >= DOUBTFUL:
        message += (
            f": {abs(off):.0f} ms ({abs(off) / sd:.1f} SD) apart. Likely, in order: different "
            "heart rates; an envelope cut by the wall filter; a time scale."
        )
    else:
        message += ": they agree."
    return Judgement(
        wrong=wrong,
        unusable=0.5 * wrong,
        message=message,
        manoeuvre="ejection-time",
        files=files_of(aortic, pulmonic),
    )


LAW = Law(
    id="ejection-times-of-both-valves",
    about=("ET",),
    needs=(),
    judge=judge,
    sources=(),
)
