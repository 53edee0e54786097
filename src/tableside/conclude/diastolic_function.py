"""Filling pattern of the left ventricle, in words.

Slow relaxation: A above E with a long deceleration or relaxation time. Restrictive: E more
than twice A with a short deceleration. A ratio between with a slow annulus or a short
relaxation is raised filling behind a normal face. Where E and A fuse nothing is said.

Sources: [schober2001flow]; annulus [choi2013].
"""

from collections.abc import Sequence

from tableside.conclude.chance import is_decided, of_bands
from tableside.conclude.compose import Conclusion, finding
from tableside.conclude.guideline import Guideline, guideline
from tableside.conclude.inputs import Input, joined, take
from tableside.model import Check, Exam, Finding, Species

ID = "diastolic-function"
SUPPORT = ("DT", "IVRT", "E'")
LABELS = ("E below A", "E above A", "E more than twice A")


def conclude(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return the filling pattern; None without mitral inflow."""
    rule = guideline("diastolic_function")
    ratio = take(exam, "E:A")
    inflow = take(exam, "E")
    if exam.patient.species is None or (ratio is None and inflow is None):
        return None
    support = {name: one for name in SUPPORT if (one := take(exam, name)) is not None}
    missing = tuple(name for name in SUPPORT if name not in support)
    used = tuple(one for one in (ratio, *support.values()) if one is not None)
    rate, limit = take(exam, "HR"), _fusion_limit(exam, rule)
    probability = {}
    if ratio is None:
        fast = rate is not None and rate.value > limit
        reason = "E and A are fused or A is missing" if fast else "A was not measured"
        statement, missing = f"Not classified: {reason}.", ("A", *missing)
    elif not support:
        statement = f"Not classified by E:A alone: {joined(missing)} not measured."
    else:
        edges = (rule.limits["E:A low"].value, rule.limits["E:A high"].value)
        probability = of_bands(edges, LABELS, ratio.value, ratio.sd)
        statement = _pattern(rule, ratio, support)
        if not is_decided(max(probability.values())):
            statement += " E:A lies near a limit: not decided by today's images."
    cautions: tuple[str, ...] = ()
    if rate is not None and rate.value > limit:
        cautions = (f"At {rate.value:.0f}/min E and A may be fused (limit {limit:g}/min).",)
    if exam.patient.species is Species.CAT:
        cautions = (*cautions, "The limits are those of dogs.")
    conclusion = Conclusion(
        id=ID,
        statement=statement,
        used=used,
        probability=probability,
        missing=missing,
        cautions=cautions,
    )
    return finding(rule, checks, conclusion)


def _pattern(rule: Guideline, ratio: Input, support: dict[str, Input]) -> str:
    if rule.limits["E:A low"].is_met(ratio.value):
        if _is(rule, support, "DT long", "IVRT long"):
            return "Slow relaxation."
        return "E below A without a long deceleration or relaxation time: not classified."
    if rule.limits["E:A high"].is_met(ratio.value):
        if _is(rule, support, "DT short", "IVRT short"):
            return "Restrictive filling."
        return "E more than twice A without a short deceleration: not classified."
    slow = _is(rule, support, "E' low")
    raised = _is(rule, support, "IVRT short", "DT short")
    if slow or raised:
        found = "a slow annulus" if slow else "a short relaxation or deceleration time"
        return f"E:A is in the normal range with {found}: raised filling pressure is possible."
    return "Filling pattern normal."


def _is(rule: Guideline, support: dict[str, Input], *names: str) -> bool:
    found = ((rule.limits[name], support.get(name.split()[0])) for name in names)
    return any(one is not None and limit.is_met(one.value) for limit, one in found)


def _fusion_limit(exam: Exam, rule: Guideline) -> float:
    name = "fused cat" if exam.patient.species is Species.CAT else "fused dog"
    return rule.limits[name].value
