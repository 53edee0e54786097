"""Whether a dog meets the criteria of the trial of 2016, apart from any stage.

Sources: [epic2016].
"""

from collections.abc import Sequence

from tableside.conclude.chance import is_decided
from tableside.conclude.compose import Conclusion, finding
from tableside.conclude.guideline import Guideline, guideline
from tableside.conclude.inputs import joined, take
from tableside.conclude.mitral_stage import both_met
from tableside.model import Check, Exam, Finding

ID = "epic-criteria"
ECHO = ("LA:Ao", "LVIDDN")
DAYS_A_YEAR = 365.25
WORDS = {">=": "at least", ">": "above", "<=": "at most", "<": "below"}
UNITS = {"age": " years", "weight": " kg"}


def conclude(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return whether all criteria are met; None without mitral disease, or in failure."""
    rule = guideline("trial_criteria")
    used = tuple(one for name in ECHO if (one := take(exam, name)) is not None)
    has_disease = exam.measurement("MR_Vmax") is not None or bool(exam.visit.murmur_grade)
    if not rule.is_for(exam) or not used or not has_disease or exam.visit.has_heart_failure:
        return None
    known = _noted(exam)
    needed = ("age", "weight", "murmur", "VHS", *ECHO)
    names = {*known, *(one.name for one in used)}
    missing = tuple(name for name in needed if name not in names)
    failed = _failed(rule, known)
    if failed:
        statement, probability = f"Not met: {joined(failed)}.", {"met": 0.0, "not met": 1.0}
    elif missing:
        statement, probability = f"Not judged: {joined(missing)} not known.", {}
    else:
        met = both_met(exam, rule, used)
        statement, probability = _statement(met), {"met": met, "not met": 1 - met}
    return finding(
        rule,
        checks,
        Conclusion(
            id=ID,
            statement=statement,
            used=used,
            probability=probability,
            missing=missing,
            noted=tuple(
                f"{name} {value:.3g}{UNITS.get(name, '')}" for name, value in known.items()
            ),
        ),
    )


def _noted(exam: Exam) -> dict[str, float]:
    visit, patient = exam.visit, exam.patient
    known: dict[str, float] = {}
    if patient.birth_date is not None and visit.date is not None:
        known["age"] = round((visit.date - patient.birth_date).days / DAYS_A_YEAR, 1)
    for name, value in (
        ("weight", patient.weight_kg),
        ("murmur", visit.murmur_grade),
        ("VHS", visit.vertebral_heart_score),
    ):
        if value is not None:
            known[name] = value
    return known


def _failed(rule: Guideline, known: dict[str, float]) -> tuple[str, ...]:
    failed = []
    for name, limit in rule.limits.items():
        noted = name.split()[0]
        if noted in known and not limit.is_met(known[noted]):
            failed.append(
                f"{noted} {known[noted]:.3g}{UNITS.get(noted, '')} ({WORDS[limit.op]} "
                f"{limit.value:g} needed)"
            )
    return tuple(failed)


def _statement(met: float) -> str:
    if not is_decided(met):
        return f"Not decided by today's images (met with probability {met:.2f})."
    return f"{'Met' if met > 0.5 else 'Not met'} (probability {max(met, 1 - met):.2f})."
