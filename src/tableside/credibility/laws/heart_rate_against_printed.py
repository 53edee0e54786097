"""On one strip the rate between R waves equals the rate that the machine stored.

Row 11 of the rule table: within 2 % on the same strip; a ratio near 2, a half or 4/3 means
that the time scale is wrong, and every time and slope of that image with it.

Sources: a design choice (docs/checks.md). The stored rate is HeartRate (0018,1088).
"""

from math import hypot, log

from tableside.credibility.evidence import from_log
from tableside.credibility.fault import DOUBTFUL, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.credibility.laws.heart_rate import rates
from tableside.model import Exam

TOLERANCE = 0.02
UPDATE_SPREAD = 0.06  # the machine averages over a few beats and stores whole numbers
FAULT_SPREAD = 0.4


def judge(exam: Exam) -> Judgement | None:
    """Compare the measured with the stored rate, image by image; report the worst."""
    found = []
    for rate in rates(exam):
        image = exam.image(rate.file)
        stored = image.stated_heart_rate if image is not None else None
        if stored and stored > 0:
            sd = hypot(TOLERANCE, UPDATE_SPREAD, rate.share)
            found.append((log(rate.value / stored), sd, rate, stored))
    if not found:
        return None
    off, sd, rate, stored = max(found, key=lambda each: (abs(each[0]), each[2].file))
    wrong = probability_wrong(off, sd, FAULT_SPREAD)
    message = f"{rate.file}: {rate.value:.0f}/min between R waves, {stored:.0f}/min stored"
    if wrong >= DOUBTFUL:
        message += (
            f": {100 * (from_log(off) - 1):+.0f} %, {abs(off) / sd:.1f} SD. Likely, in order: "
            "the time scale of the image; a wave counted twice or missed; an arrhythmia."
        )
    else:
        message += ": they agree."
    return Judgement(
        wrong=wrong,
        unusable=wrong,
        message=message,
        manoeuvre="sweep-scale",
        files=(rate.file,),
    )


LAW = Law(
    id="heart-rate-against-printed",
    about=("HR",),
    needs=(),
    judge=judge,
    sources=(),
)
