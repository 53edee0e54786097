"""Screens for dilated cardiomyopathy in the breeds that have their own limits.

Sources: Doberman [wess2017], [wess2010smod], [holler2014]; Irish Wolfhound [vollmar1999];
Great Dane [stephenson2012]; the three features of 2003 [dukes2003].
"""

from collections.abc import Mapping, Sequence

from tableside.conclude.chance import is_decided
from tableside.conclude.compose import Conclusion, finding
from tableside.conclude.guideline import Guideline, Limit, guideline, is_breed
from tableside.conclude.inputs import Input, joined, take
from tableside.model import Check, Exam, Finding

SCREENS = ("dcm_doberman", "dcm_irish_wolfhound", "dcm_great_dane")
LENGTHS = {"LVIDd", "LVIDs", "EPSS"}
SINGLE = "The probability is that of the clearest single limit; the limits are not independent."
GIANTS = ("irish wolfhound", "great dane")


def screen(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return the screen of this breed; None for a breed without one or without numbers."""
    rule = breed_rule(exam)
    if rule is None:
        return None
    limits, missing = _of_sex(exam, rule.limits)
    chances = _chances(exam, limits)
    if not chances:
        return None
    missing += [name for name in limits if name not in chances]
    best = max(chances.values(), key=lambda pair: pair[1])[1]
    extra = _chances(exam, rule.ancillary)
    missing += [name for name in rule.ancillary if name not in extra]
    statement, probability = _statement(chances, best, missing)
    if extra and any(part > 0.5 for _, part in extra.values()):
        statement += f" Also beyond its limit: {joined(_beyond(extra))}."
    conclusion = Conclusion(
        id="dcm-screen",
        statement=statement,
        used=tuple(one for one, _ in (*chances.values(), *extra.values())),
        probability=probability,
        missing=tuple(missing),
        cautions=(SINGLE, *_lines(exam, rule)),
    )
    return finding(rule, checks, conclusion)


def criteria_2003(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return the three features together, in a breed that has limits for the first."""
    rule, breed = guideline("dcm_criteria_2003"), breed_rule(exam)
    if breed is None or not rule.is_for(exam):
        return None
    sizes, _ = _of_sex(exam, breed.limits)
    dilated = {name: limit for name, limit in sizes.items() if name in {"LVIDd", "EDVI"}}
    weak = {"EF_discs": rule.limits["EF_discs"]}
    if not is_breed(exam.patient.breed, GIANTS):
        weak["FS"] = rule.limits["FS"]
    features = {
        "left ventricle dilated": _chances(exam, dilated),
        "systolic function reduced": _chances(exam, weak),
        "left ventricle rounder": _chances(exam, {"sphericity": rule.limits["sphericity"]}),
    }
    known = {name: found for name, found in features.items() if found}
    if not known:
        return None
    missing = tuple(name for name in features if name not in known)
    probability, statement = {}, f"Not judged: {joined(missing)} not assessed."
    if not missing:
        all_three = min(max(part for _, part in found.values()) for found in known.values())
        probability = {"all three": all_three, "not all three": 1 - all_three}
        statement = _features(known, all_three)
    conclusion = Conclusion(
        id="dcm-criteria-2003",
        statement=statement,
        used=tuple(one for found in known.values() for one, _ in found.values()),
        probability=probability,
        missing=missing,
        cautions=(SINGLE,),
    )
    return finding(rule, checks, conclusion)


def breed_rule(exam: Exam) -> Guideline | None:
    """Return the screen made for this breed, or None."""
    rules = (guideline(name) for name in SCREENS)
    return next((rule for rule in rules if rule.is_for(exam)), None)


def _of_sex(exam: Exam, limits: Mapping[str, Limit]) -> tuple[dict[str, Limit], list[str]]:
    """Return the limits of this sex by quantity, and "sex" as missing where they need it."""
    sex = exam.patient.sex
    side = None if sex is None else ("male" if sex.is_male else "female")
    chosen, needs_sex = {}, False
    for name, limit in limits.items():
        quantity, *of_sex = name.split()
        if not of_sex or of_sex[0] == side:
            chosen[quantity] = limit
        needs_sex = needs_sex or (bool(of_sex) and side is None)
    return chosen, ["sex"] if needs_sex else []


def _chances(exam: Exam, limits: Mapping[str, Limit]) -> dict[str, tuple[Input, float]]:
    """Return each number that is there with the chance that it is beyond its limit."""
    found = {}
    for name, limit in limits.items():
        one = take(exam, name)
        if one is None or (name in {"EDVI", "ESVI"} and "LVIDd" in one.below):
            continue
        if name == "ESVI" and "LVIDs" in one.below:
            continue
        shown = one.in_mm() if name in LENGTHS else one
        found[name] = (shown, limit.chance(shown.value, shown.sd))
    return found


def _beyond(chances: Mapping[str, tuple[Input, float]]) -> list[str]:
    return [name for name, (_, part) in chances.items() if part > 0.5]


def _statement(
    chances: Mapping[str, tuple[Input, float]], best: float, missing: Sequence[str]
) -> tuple[str, dict[str, float]]:
    probability = {"abnormal": best, "within limits": 1 - best}
    if not is_decided(best):
        return (
            f"Not decided by today's images (abnormal with probability {best:.2f}).",
            probability,
        )
    if best > 0.5:
        return f"Abnormal by {joined(_beyond(chances))} (probability {best:.2f}).", probability
    if missing:
        return f"Within limits as far as measured; {joined(missing)} not known.", {}
    return f"Echo within the limits of the breed (probability {1 - best:.2f}).", probability


def _features(known: Mapping[str, Mapping[str, tuple[Input, float]]], all_three: float) -> str:
    present = [name for name, found in known.items() if _beyond(found)]
    if not is_decided(all_three):
        return f"Three features: not decided by today's images (probability {all_three:.2f})."
    if all_three > 0.5:
        return f"All three features present (probability {all_three:.2f})."
    return f"Not all three features: {joined(present) or 'none'} present."


def _lines(exam: Exam, rule: Guideline) -> tuple[str, ...]:
    """Return what the limits by weight make of the sizes, beside the fixed ones."""
    weight, texts = exam.patient.weight_kg, []
    for name, (slope, intercept) in rule.lines.items():
        one = take(exam, name)
        if weight is not None and one is not None:
            limit = intercept + slope * weight
            side = "above" if 10 * one.value > limit else "not above"
            texts.append(f"{name} is {side} the limit by weight, {limit:.1f} mm.")
    return tuple(texts)
