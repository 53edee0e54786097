r"""The aorta of a dog follows its weight and hardly any disease: a ruler inside the image.

.. math:: Ao = 0.78\,BW^{0.341}\ \mathrm{cm} \pm 25\,\%

Row 22 of the rule table, the side of the triangle that needs no text or ticks.

Sources: 0.78 (0.63 to 0.96) and 0.341 [cornell2004].
"""

from math import hypot, log

from tableside.credibility.allometry import SIZES
from tableside.credibility.evidence import from_log, numbers
from tableside.credibility.fault import DOUBTFUL, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam, Species

FAULT_SPREAD = 0.7
KNOWN_FACTORS = (2.0, 0.5, 10.0, 0.1)


def judge(exam: Exam) -> Judgement | str:
    """Compare the aortic root with the one of a dog of this weight."""
    (aorta,) = numbers(exam, "Ao")
    weight = exam.patient.weight_kg
    if weight is None or not 0.4 <= weight <= 120:
        return "Needs a body weight between 0.4 and 120 kg."
    size = SIZES["Ao"]
    off = log(aorta.value) - size.centre(weight)
    sd = hypot(size.spread, aorta.share)
    wrong = probability_wrong(off, sd, FAULT_SPREAD)
    expected = from_log(size.centre(weight))
    message = (
        f"Aortic root {aorta.value:.2f} cm; {expected:.2f} cm is usual at {weight:g} kg "
        f"({off / sd:+.1f} SD, {100 * (from_log(off) - 1):+.0f} %)"
    )
    if wrong >= DOUBTFUL:
        is_scale = any(abs(off - log(factor)) < 0.2 for factor in KNOWN_FACTORS)
        causes = (
            "the depth scale of this image; the weight; an oblique aorta"
            if is_scale
            else "an oblique aorta or another level; the weight; the depth scale of this image"
        )
        message += f". Likely, in order: {causes}."
    else:
        message += "."
    return Judgement(
        wrong=wrong,
        unusable=wrong,
        message=message,
        manoeuvre="depth-scale",
        files=aorta.files,
    )


LAW = Law(
    id="calibration-against-aorta",
    about=("Ao",),
    needs=("weight",),
    judge=judge,
    sources=("cornell2004",),
    species=Species.DOG,
)
