"""Numbers that support left-sided congestion in dogs. They support, and never diagnose.

E:E' is left out: its published cut of 9.1 (nine dogs with an acute leak) lies below the mean
of healthy large dogs, 10.9. The ratio of pulmonary vein to artery is not measured.

Sources: E:IVRT [schober2010]; E with LA:Ao [borgarelli2008]; left out [oyama2004],
[choi2013], [merveille2015].
"""

from collections.abc import Sequence

from tableside.conclude.chance import is_decided
from tableside.conclude.compose import Conclusion, finding
from tableside.conclude.dilated_cardiomyopathy import breed_rule
from tableside.conclude.guideline import Guideline, guideline
from tableside.conclude.inputs import Input, joined, take
from tableside.model import Check, Exam, Finding

ID = "congestion-support"


def conclude(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return what supports congestion; None without any of the numbers."""
    rule = guideline("congestion")
    found = _found(exam, rule)
    if not rule.is_for(exam) or not found:
        return None
    above = [words for words, _, part in found if part > 0.8]
    near = [words for words, _, part in found if is_decided(part) is False]
    below = [words for words, _, part in found if part < 0.2]
    parts = []
    if above:
        parts.append(f"{joined(above)} {_verb(above, 'support')} left-sided congestion")
    if near:
        parts.append(f"{joined(near)} {_verb(near, 'lie')} near the limit for congestion")
    if below:
        what = "it" if above or near else "left-sided congestion"
        parts.append(f"{joined(below)} {_verb(below, 'do')} not support {what}")
    used = {one.name: one for _, ones, _ in found for one in ones}
    conclusion = Conclusion(
        id=ID,
        statement=f"{'; '.join(parts)}.",
        used=tuple(used.values()),
        probability={},
        missing=_missing(exam),
    )
    return finding(rule, checks, conclusion)


Support = tuple[str, tuple[Input, ...], float]


def _found(exam: Exam, rule: Guideline) -> list[Support]:
    """Return each sign: its words, its numbers, and the chance that it is beyond the limit."""
    found: list[Support] = []
    filling, inflow, atrium = (take(exam, name) for name in ("E:IVRT", "E", "LA:Ao"))
    if filling is not None:
        is_muscle = breed_rule(exam) is not None and exam.measurement("MR_Vmax") is None
        limit = rule.limits["E:IVRT DCM" if is_muscle else "E:IVRT"]
        found.append(("E:IVRT", (filling,), limit.chance(filling.value, filling.sd)))
    if inflow is not None and atrium is not None:
        both = rule.limits["E"].chance(inflow.value, inflow.sd) * rule.limits["LA:Ao"].chance(
            atrium.value, atrium.sd
        )
        found.append(("E with LA:Ao", (inflow, atrium), both))
    return found


def _missing(exam: Exam) -> tuple[str, ...]:
    missing = [] if take(exam, "E:IVRT") is not None else ["E:IVRT"]
    return (*missing, "pulmonary vein to artery", "breathing rate asleep", "radiographs")


def _verb(subjects: Sequence[str], verb: str) -> str:
    if len(subjects) > 1:
        return verb
    return {"support": "supports", "lie": "lies", "do": "does"}[verb]
