"""Cardiomyopathy of cats: phenotype by the thickest wall; risk by the left atrium.

No stage is given: thyroid hormone, blood pressure and the whole of the wall come first.

Sources: [luisfuentes2020]; extreme thickness [payne2013].
"""

from collections.abc import Sequence

from tableside.conclude.chance import is_decided, likeliest, of_bands, share_above
from tableside.conclude.compose import Conclusion, finding
from tableside.conclude.guideline import Guideline, guideline
from tableside.conclude.inputs import Input, take
from tableside.model import Check, Exam, Finding

WALLS = ("IVSd", "LVPWd")


def phenotype(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return the phenotype by wall thickness; None without a wall."""
    rule = guideline("feline_cardiomyopathy")
    walls = [one.in_mm() for name in WALLS if (one := take(exam, name)) is not None]
    if not rule.is_for(exam) or not walls:
        return None
    missing = [name for name in WALLS if name not in {wall.name for wall in walls}]
    bands = rule.bands["wall"]
    probability = _thickest(walls, bands.edges, bands.labels)
    missing += ["thyroid hormone", "hydration"]
    if exam.visit.systolic_pressure_mmHg is None:
        missing.append("systolic pressure")
    thickest = max(walls, key=lambda wall: wall.value)
    cautions = []
    if rule.limits["extreme"].is_met(thickest.value):
        cautions.append("A wall of 9 mm or more is tied to cardiac death (payne2013).")
    conclusion = Conclusion(
        id="feline-phenotype",
        title="Phenotype of the feline heart",
        statement=_words(thickest, probability),
        used=tuple(walls),
        probability=probability,
        missing=tuple(missing),
        noted=_pressure(exam),
        cautions=tuple(cautions),
    )
    return finding(rule, checks, conclusion)


def atrium(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return the size of the left atrium in classes of risk; None where it was not measured."""
    rule = guideline("feline_cardiomyopathy")
    ratio, length = take(exam, "LA:Ao"), take(exam, "LAD")
    if not rule.is_for(exam) or (ratio is None and length is None):
        return None
    used = [*([] if ratio is None else [ratio]), *([] if length is None else [length.in_mm()])]
    large = max(_large(rule, one) for one in used)
    probability = {
        "normal or mildly enlarged": 1 - large,
        "moderately or severely enlarged": large,
    }
    conclusion = Conclusion(
        id="feline-left-atrium",
        title="Left atrium of the cat",
        statement=_risk(exam, large),
        used=tuple(used),
        probability=probability,
        missing=tuple(name for name, one in (("LA:Ao", ratio), ("LAD", length)) if one is None),
        cautions=("Left atrial function, smoke and thrombus were not assessed.",),
    )
    return finding(rule, checks, conclusion)


def _thickest(
    walls: Sequence[Input], edges: Sequence[float], labels: Sequence[str]
) -> dict[str, float]:
    """Return the classes of the thickest of independent walls."""
    below = [1.0] * len(edges)
    for wall in walls:
        shares = (share_above(wall.value, wall.sd, edge) for edge in edges)
        below = [part * (1 - share) for part, share in zip(below, shares, strict=True)]
    if len(walls) == 1:
        return of_bands(edges, labels, walls[0].value, walls[0].sd)
    steps = [0.0, *below, 1.0]
    return {label: steps[at + 1] - steps[at] for at, label in enumerate(labels)}


def _large(rule: Guideline, one: Input) -> float:
    return rule.limits[f"{one.name} large"].chance(one.value, one.sd)


def _words(thickest: Input, probability: dict[str, float]) -> str:
    label, share = likeliest(probability)
    wall = f"thickest wall {thickest.value:.1f} mm ({thickest.name})"
    if not is_decided(share):
        second = sorted(probability, key=lambda each: -probability[each])[1]
        order = list(probability)
        first, other = sorted((label, second), key=order.index)
        return f"{first.capitalize()} or {other}: not decided by today's images; {wall}."
    return f"{label.capitalize()} (probability {share:.2f}); {wall}."


def _risk(exam: Exam, large: float) -> str:
    if exam.visit.has_heart_failure:
        end = "signs of heart failure were entered: with a cardiomyopathy this is stage C"
    else:
        end = "with a cardiomyopathy and without signs this tells stage B1 from B2"
    if not is_decided(large):
        return f"Left atrial enlargement not decided by today's images ({large:.2f}); {end}."
    words = "moderately or severely enlarged" if large > 0.5 else "normal or mildly enlarged"
    return f"Left atrium {words} (probability {max(large, 1 - large):.2f}); {end}."


def _pressure(exam: Exam) -> tuple[str, ...]:
    pressure = exam.visit.systolic_pressure_mmHg
    return () if pressure is None else (f"systolic pressure {pressure:.0f} mmHg",)
