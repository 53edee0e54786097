"""Severity score of mitral valve disease in dogs, as a distribution.

Points for LA:Ao, LVIDDN, FS and E add up. The numbers are drawn with their doubt; FS and
LVIDDN share the diastolic diameter and are drawn together.

Sources: [mine2021].
"""

from collections.abc import Mapping, Sequence

from tableside.conclude.chance import is_decided, likeliest
from tableside.conclude.compose import Conclusion, finding
from tableside.conclude.guideline import Guideline, guideline
from tableside.conclude.inputs import Input, joined, take
from tableside.conclude.sampling import DRAWS, normal_draws
from tableside.model import Check, Exam, Finding

ID = "mitral-severity-score"
NAMES = ("LA:Ao", "E", "LVIDDN", "FS")  # the last two are drawn together
DERIVED_KG = 20.0


def conclude(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return the score and its class; None without all numbers and without mitral disease."""
    rule = guideline("mitral_score")
    used = {name: one for name in NAMES if (one := take(exam, name)) is not None}
    has_disease = exam.measurement("MR_Vmax") is not None or bool(exam.visit.murmur_grade)
    if not rule.is_for(exam) or not used or not (has_disease or len(used) == len(NAMES)):
        return None
    missing = tuple(name for name in NAMES if name not in used)
    weight = exam.patient.weight_kg
    heavy = weight is not None and weight > DERIVED_KG
    cautions = (f"This dog weighs {weight:.3g} kg, more than those.",) if heavy else ()
    if missing:
        statement, probability = f"Not scored: {joined(missing)} not measured.", {}
    else:
        ones = tuple(used[name] for name in NAMES)
        scores = _scores(exam, rule, ones)
        probability = by_class(rule, scores)
        statement = _statement(rule, ones, scores, probability)
    return finding(
        rule,
        checks,
        Conclusion(
            id=ID,
            statement=statement,
            used=tuple(used.values()),
            probability=probability,
            missing=missing,
            cautions=cautions,
        ),
    )


def points(rule: Guideline, values: Mapping[str, float]) -> int:
    """Return the score of numbers without error."""
    return sum(rule.points[name].of(values[name]) for name in NAMES)


def distribution(rule: Guideline, ones: Sequence[Input], together: float) -> dict[int, float]:
    """Return the probability of each score, lowest first."""
    counts: dict[int, int] = {}
    numbers = [(one.value, one.sd) for one in ones]
    for draw in normal_draws(numbers, together):
        score = points(rule, dict(zip(NAMES, draw, strict=True)))
        counts[score] = counts.get(score, 0) + 1
    return {score: counts[score] / DRAWS for score in sorted(counts)}


def _scores(exam: Exam, rule: Guideline, ones: Sequence[Input]) -> dict[int, float]:
    """Return the distribution from the joint belief, or from the numbers one by one."""
    joint = exam.joint
    if joint is None or not joint.holds(*NAMES):
        return distribution(rule, ones, _together(exam))
    shares: dict[int, float] = {}
    rows = zip(*(joint.draws[name] for name in NAMES), strict=True)
    for row, weight in zip(rows, joint.weights, strict=True):
        score = points(rule, dict(zip(NAMES, row, strict=True)))
        shares[score] = shares.get(score, 0.0) + weight
    return dict(sorted(shares.items()))


def by_class(rule: Guideline, scores: Mapping[int, float]) -> dict[str, float]:
    """Return the probability of each class of the score."""
    bands = rule.bands["score"]
    shares = dict.fromkeys(bands.labels, 0.0)
    for score, share in scores.items():
        shares[bands.label(score)] += share
    return shares


def _statement(
    rule: Guideline,
    ones: Sequence[Input],
    scores: Mapping[int, float],
    probability: Mapping[str, float],
) -> str:
    score = points(rule, {one.name: one.value for one in ones})
    label, share = likeliest(probability)
    shown = score_in_words(score, [each for each, part in scores.items() if part >= 0.05])
    if not is_decided(share):
        return f"{shown}: most likely {label} ({share:.2f}), not decided by today's images."
    return f"{shown}: {label} (probability {share:.2f})."


def score_in_words(score: int, likely: Sequence[int]) -> str:
    """Say the score and its range; where all numbers together move it, say that too."""
    low, high = min(likely), max(likely)
    span = f"{low} to {high}" if low < high else f"{low}"
    if low <= score <= high:
        return f"Score {score} (likely {span})"
    return f"Score {score} as measured, but {span} when all numbers are weighed together"


def _together(exam: Exam) -> float:
    """Return the correlation of LVIDDN and FS through the diastolic diameter."""
    full, empty = exam.measurement("LVIDd"), exam.measurement("LVIDs")
    if full is None or empty is None or not full.value:
        return 0.0
    ratio = empty.value / full.value
    through_full = ratio * full.sd_total / full.value
    through_empty = empty.sd_total / full.value
    size = (through_full**2 + through_empty**2) ** 0.5
    return min(through_full / size, 0.95) if size else 0.0
