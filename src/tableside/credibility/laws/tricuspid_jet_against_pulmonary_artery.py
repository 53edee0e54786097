"""A gradient above 50 mmHg should show in the pulmonary artery, and a lower one should not.

Row 6 of the rule table. The published sensitivities and specificities of the signs are used
as they stand; the signs depend on each other, so their evidence is tempered.

Sources: AT < 53.9 ms (0.74, 0.87), AT:ET < 0.30 (0.61, 0.97), MPA:Ao > 1.04 (0.94, 0.74)
for a gradient above 50 mmHg, 69 dogs [visser2016].
"""

from dataclasses import dataclass
from math import log

from tableside.credibility.evidence import Seen, files_of, numbers, of_flow, seen
from tableside.credibility.fault import DOUBTFUL, FAULT_PRIOR, logistic, normal_cdf
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam, Species

HIGH_MMHG = 50.0
DEPENDENT = 0.7  # each sign counts as 0.7 of an independent one; design
PREVALENCE = 0.3  # of a gradient above 50 mmHg where the jet is worthless; design
FEWEST = 2  # signs


@dataclass(frozen=True, slots=True)
class Sign:
    """One sign: the cut, which side speaks for a high gradient, and how well it tells."""

    name: str
    cut: float
    is_high_below: bool
    sensitivity: float
    specificity: float


SIGNS = (
    Sign("AT", 53.9, True, 0.74, 0.87),
    Sign("AT:ET", 0.30, True, 0.61, 0.97),
    Sign("PA:Ao", 1.04, False, 0.94, 0.74),
)


def judge(exam: Exam) -> Judgement | str:
    """Weigh the pulmonary artery signs against the tricuspid gradient."""
    (jet,) = numbers(exam, "TR_Vmax")
    found = [(sign, one) for sign in SIGNS if (one := _read(exam, sign.name)) is not None]
    if len(found) < FEWEST:
        return "Needs two of AT and AT:ET of the pulmonic flow and PA:Ao."
    gradient, sd = 4 * jet.value**2, max(8 * jet.value * jet.sd_jet, 0.5)
    high = normal_cdf((gradient - HIGH_MMHG) / sd)
    if_high, if_low = (_evidence(found, is_high=side) for side in (True, False))
    agree = high * if_high + (1 - high) * if_low
    anyhow = PREVALENCE * if_high + (1 - PREVALENCE) * if_low
    if jet.is_lower_bound:
        agree = max(agree, anyhow)
    odds = log(FAULT_PRIOR / (1 - FAULT_PRIOR)) + log(anyhow) - log(agree)
    wrong = logistic(odds)
    return Judgement(
        wrong=wrong,
        unusable=wrong,
        message=_message(gradient, found, wrong),
        manoeuvre="tricuspid-jet" if gradient < HIGH_MMHG else "pulmonic-flow",
        files=files_of(jet, *(one for _, one in found)),
    )


def _read(exam: Exam, name: str) -> Seen | None:
    return of_flow(exam, "AT", "pulmonic outflow") if name == "AT" else seen(exam, name)


def _evidence(found: list[tuple[Sign, Seen]], *, is_high: bool) -> float:
    product = 1.0
    for sign, one in found:
        present = _present(sign, one)
        rate = sign.sensitivity if is_high else 1 - sign.specificity
        product *= (present * rate + (1 - present) * (1 - rate)) ** DEPENDENT
    return product


def _present(sign: Sign, one: Seen) -> float:
    below = normal_cdf((sign.cut - one.value) / max(one.sd, 1e-9))
    return below if sign.is_high_below else 1 - below


def _message(gradient: float, found: list[tuple[Sign, Seen]], wrong: float) -> str:
    present = [str(one) for sign, one in found if _present(sign, one) >= 0.5]
    absent = [str(one) for sign, one in found if _present(sign, one) < 0.5]
    parts = [f"Tricuspid gradient {gradient:.0f} mmHg"]
    if present:
        parts.append(f"{', '.join(present)} as with more than {HIGH_MMHG:.0f} mmHg")
    if absent:
        parts.append(f"{', '.join(absent)} as with less")
    text = "; ".join(parts) + "."
    if wrong < DOUBTFUL:
        return text
    causes = (
        "the mitral jet seen across the septum; the pulmonic gate too near the wall; stenosis"
        if gradient > HIGH_MMHG
        else "the beam off the tricuspid jet; an incomplete envelope; a fast heart rate"
    )
    return f"{text} Likely, in order: {causes}."


LAW = Law(
    id="tricuspid-jet-against-pulmonary-artery",
    about=("TR_Vmax", "AT", "AT:ET", "PA:Ao"),
    needs=(),
    judge=judge,
    sources=("visser2016",),
    species=Species.DOG,
)
