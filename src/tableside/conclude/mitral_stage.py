"""Stage of mitral valve disease in dogs.

B2 needs all of: murmur 3/6 or louder, LA:Ao 1.6 or more (2-D), LVIDDN 1.7 or more, vertebral
heart score above 10.5. C needs present or past signs of congestive heart failure. Images can
tell neither A from B without the valve, nor D from C.

Sources: [keene2019]; the exponent 0.33 [rishniwbrown2022].
"""

from collections.abc import Sequence

from tableside.conclude.chance import is_decided
from tableside.conclude.compose import Conclusion, finding
from tableside.conclude.guideline import Guideline, guideline
from tableside.conclude.inputs import Input, joined, take
from tableside.model import Check, Exam, Finding

ID = "mmvd-stage"
ECHO = ("LA:Ao", "LVIDDN")
INDEPENDENT = "LA:Ao and LVIDDN are treated as independent."
TOGETHER = "The probability is of both limits together, from one model of the examination."
NO_JET = "Holds only where mitral valve disease was seen: no mitral jet was measured."
NO_SIGNS = "No signs were entered; past heart failure would make it stage C."


def conclude(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return the stage, or what is missing for one; None where nothing bears on it."""
    rule = guideline("mitral_stage")
    used = tuple(one for name in ECHO if (one := take(exam, name)) is not None)
    has_jet = exam.measurement("MR_Vmax") is not None
    bears = has_jet or any(one.name == "LA:Ao" for one in used) or bool(exam.visit.murmur_grade)
    if not rule.is_for(exam) or not bears or not (used or has_jet):
        return None
    cautions = list(_cautions(exam, rule, has_jet=has_jet))
    if exam.visit.has_heart_failure:
        return finding(rule, checks, _failing(exam, used, tuple(cautions)))
    if not exam.visit.signs:
        cautions.append(NO_SIGNS)
    missing = _missing(exam, used)
    if missing:
        statement, probability = _without_stage(exam, rule, used, missing), {}
    else:
        enlarged = both_met(exam, rule, used) * _noted_met(exam, rule)
        probability = {"B1": 1 - enlarged, "B2": enlarged}
        statement = _stage(enlarged)
        cautions.append(TOGETHER if is_known_together(exam) else INDEPENDENT)
        cautions.extend(_against_the_reading(exam, rule, used, enlarged))
    return finding(
        rule,
        checks,
        Conclusion(
            id=ID,
            statement=statement,
            used=used,
            probability=probability,
            missing=missing,
            noted=_noted(exam),
            cautions=tuple(cautions),
        ),
    )


def _against_the_reading(
    exam: Exam, rule: Guideline, used: Sequence[Input], enlarged: float
) -> tuple[str, ...]:
    """Say so where the probability points away from what the two numbers read."""
    is_met = {one.name: rule.limits[one.name].is_met(one.value) for one in used}
    reads_b2 = all(is_met.values()) and bool(_noted_met(exam, rule))
    if reads_b2 == (enlarged > 0.5):
        return ()
    shown = [one for one in used if reads_b2 or not is_met[one.name]]
    values = joined([f"{one.name} {one.value:.2f}" for one in shown])
    means = "weighed with all other numbers" if is_known_together(exam) else "with their doubt"
    if reads_b2:
        return (f"As measured, {values} reach their limits; {means}, probably not both do.",)
    return (f"As measured, {values} below the limit; {means}, probably above it.",)


def _stage(enlarged: float) -> str:
    if not is_decided(enlarged):
        return (
            "Stage B1 or B2: not decided by today's images (B2 with probability "
            f"{enlarged:.2f})."
        )
    if enlarged > 0.5:
        return f"Stage B2 (probability {enlarged:.2f})."
    return f"Stage B1 (probability {1 - enlarged:.2f})."


def _without_stage(
    exam: Exam, rule: Guideline, used: tuple[Input, ...], missing: tuple[str, ...]
) -> str:
    if len(used) < len(ECHO):
        return f"No stage: {joined(missing)} not known."
    met = both_met(exam, rule, used)
    if not is_decided(met):
        state = f"not decided by today's images (probability {met:.2f})"
    else:
        state = "met" if met > 0.5 else "not met"
    return f"B2 echo criteria {state}; {joined(missing)} not entered."


def _failing(exam: Exam, used: tuple[Input, ...], cautions: tuple[str, ...]) -> Conclusion:
    return Conclusion(
        id=ID,
        statement=(
            "Stage C: signs of congestive heart failure were entered. Whether it is stage D "
            "(refractory to treatment) is not seen on images."
        ),
        used=used,
        probability={"C": 1.0},
        noted=(*_noted(exam), "congestive heart failure among the signs"),
        cautions=cautions,
    )


def is_known_together(exam: Exam) -> bool:
    """Return whether atrium and ventricle are believed in jointly."""
    return exam.joint is not None and exam.joint.holds(*ECHO)


def both_met(exam: Exam, rule: Guideline, used: Sequence[Input]) -> float:
    """Return the probability that left atrium and ventricle both reach their limits."""
    if exam.joint is not None and is_known_together(exam):
        return exam.joint.at_least({name: rule.limits[name].value for name in ECHO})
    product = 1.0
    for one in used:
        product *= rule.limits[one.name].chance(one.value, one.sd)
    return product


def _noted_met(exam: Exam, rule: Guideline) -> float:
    murmur, score = exam.visit.murmur_grade, exam.visit.vertebral_heart_score
    assert murmur is not None and score is not None
    return float(rule.limits["murmur"].is_met(murmur) and rule.limits["VHS"].is_met(score))


def _missing(exam: Exam, used: tuple[Input, ...]) -> tuple[str, ...]:
    names = {one.name for one in used}
    missing = [name for name in ECHO if name not in names]
    if "LA:Ao" in missing and exam.index("LA:Ao_m-mode") is not None:
        missing[missing.index("LA:Ao")] = "LA:Ao on a 2-D short axis"
    if exam.visit.vertebral_heart_score is None:
        missing.append("VHS")
    if exam.visit.murmur_grade is None:
        missing.append("murmur")
    return tuple(missing)


def _noted(exam: Exam) -> tuple[str, ...]:
    murmur, score = exam.visit.murmur_grade, exam.visit.vertebral_heart_score
    noted = [] if murmur is None else [f"murmur {murmur}/6"]
    return (*noted, *([] if score is None else [f"VHS {score:g}"]))


def _cautions(exam: Exam, rule: Guideline, *, has_jet: bool) -> tuple[str, ...]:
    cautions = [] if has_jet else [NO_JET]
    other = take(exam, "LVIDDN_0.33")
    if other is not None:
        limit = rule.limits["LVIDDN_0.33"]
        side = "above" if limit.is_met(other.value) else "not above"
        cautions.append(
            f"With the exponent 0.33 the left ventricle is {other.value:.2f}, {side} "
            f"{limit.value:g} (97.5 % of healthy dogs; {limit.source})."
        )
    return tuple(cautions)
