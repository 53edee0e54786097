r"""Ejection shortens as the heart rate rises.

.. math:: ET + 0.55\,HR = 217 \pm 10\ \mathrm{ms}

Row 19 of the rule table, tolerance 25 ms.

Sources: 0.55 [atkins1992] (memory); 215 to 220 (memory, low confidence).
"""

from math import hypot

from tableside.credibility.evidence import files_of, numbers, of_flow
from tableside.credibility.fault import DOUBTFUL, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam, Species

SLOPE_MS, INDEX_MS, MODEL_MS = 0.55, 217.0, 12.0
FAULT_MS = 60.0


def judge(exam: Exam) -> Judgement | str:
    """Compare the aortic ejection time with the one expected at this rate."""
    (rate,) = numbers(exam, "HR")
    ejection = of_flow(exam, "ET", "aortic outflow")
    if ejection is None:
        return "Not recorded: ET of the aortic flow."
    expected = INDEX_MS - SLOPE_MS * rate.value
    off = ejection.value - expected
    sd = hypot(MODEL_MS, ejection.sd, SLOPE_MS * rate.sd)
    wrong = probability_wrong(off, sd, FAULT_MS)
    message = (
        f"Ejection time {ejection.value:.0f} ms at {rate.value:.0f}/min; {expected:.0f} ms "
        "expected"
    )
    if wrong >= DOUBTFUL:
        causes = (
            "envelope cut by the wall filter; weak contraction; the time scale"
            if off < 0
            else "a click or another flow included; obstruction; the time scale"
        )
        message += (
            f": {abs(off):.0f} ms ({abs(off) / sd:.1f} SD) off. Likely, in order: {causes}."
        )
    else:
        message += ": they agree."
    return Judgement(
        wrong=wrong,
        unusable=0.7 * wrong,
        message=message,
        manoeuvre="ejection-time",
        files=files_of(ejection, rate),
    )


LAW = Law(
    id="ejection-time-against-rate",
    about=("ET", "HR"),
    needs=("HR",),
    judge=judge,
    sources=("atkins1992",),
    species=Species.DOG,
)
