"""LA:Ao on an M-mode reads about a tenth lower than on a 2-D image.

Row 16 of the rule table: the M-line cuts the auricle, not the widest atrium. Off by more than
25 % of that, one of the two is wrong, most often the M-mode in an enlarged atrium.

Sources: 2-D less M-mode 11 %, 166 Cavaliers [hansson2002]; 25 % a design choice.
"""

from math import hypot, log

from tableside.credibility.evidence import files_of, numbers
from tableside.credibility.fault import DOUBTFUL, probability_wrong
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam, Species

EXPECTED, MODEL_SPREAD = 1.11, 0.10
FAULT_SPREAD = 0.4


def judge(exam: Exam) -> Judgement | str:
    """Compare the two ways of measuring LA:Ao."""
    two_d, m_mode = numbers(exam, "LA:Ao", "LA:Ao_m-mode")
    off = log(two_d.value / m_mode.value / EXPECTED)
    sd = hypot(MODEL_SPREAD, two_d.share, m_mode.share)
    wrong = probability_wrong(off, sd, FAULT_SPREAD)
    message = f"LA:Ao {two_d.value:.2f} on 2-D and {m_mode.value:.2f} on M-mode"
    if wrong >= DOUBTFUL:
        message += (
            f": {100 * abs(off):.0f} % ({abs(off) / sd:.1f} SD) from the usual tenth. Likely, "
            "in order: the M-line cuts the auricle; wrong phase on 2-D; a pulmonary vein "
            "included."
        )
    else:
        message += ": they agree."
    return Judgement(
        wrong=wrong,
        unusable=0.4 * wrong,
        message=message,
        manoeuvre="left-atrium",
        files=files_of(two_d, m_mode),
    )


LAW = Law(
    id="atrium-2d-against-m-mode",
    about=("LA:Ao", "LA:Ao_m-mode"),
    needs=("LA:Ao", "LA:Ao_m-mode"),
    judge=judge,
    sources=("hansson2002",),
    species=Species.DOG,
    concerns=("LA:Ao_m-mode",),
)
