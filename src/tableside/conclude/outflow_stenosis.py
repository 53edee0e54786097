"""Grade of subaortic and of pulmonic stenosis in dogs by the peak gradient.

Sources: [eason2021] and [expertvet]; velocities that are normal or equivocal
[kittlesoncases], [bussadori2000]; Boxers [boxeras2006].
"""

from collections.abc import Sequence
from dataclasses import replace
from math import sqrt

from tableside.conclude.chance import NOT_DECIDED, is_decided, likeliest, of_bands
from tableside.conclude.compose import Conclusion, finding
from tableside.conclude.guideline import Guideline, guideline, is_breed
from tableside.conclude.inputs import Input, take
from tableside.model import Check, Exam, Finding

LOW = "The gradient is a lower bound: a beam off the flow only reads low."


def conclude_aortic(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return the grade of the left ventricular outflow; None without its velocity."""
    rule = guideline("subaortic_stenosis")
    peak = take(exam, "AV_Vmax")
    if not rule.is_for(exam) or peak is None:
        return None
    normal, equivocal = rule.limits["normal"].value, rule.limits["equivocal"].value
    bands = rule.bands["AV_PG"]
    edges = (normal, equivocal, *(sqrt(edge / 4) for edge in bands.edges))
    probability = of_bands(edges, ("normal", "equivocal", *bands.labels), peak.value, peak.sd)
    cautions = [LOW] if peak.is_lower_bound else []
    if probability["normal"] < 0.5:
        cautions.append("A lesion on the image or a step in velocity belongs to the diagnosis.")
    if is_breed(exam.patient.breed, ["boxer"]) and peak.value > normal:
        cautions.append(_boxer(rule, peak))
    conclusion = Conclusion(
        id="subaortic-stenosis",
        statement=_statement("aortic", "subaortic stenosis", peak, probability),
        used=(peak,),
        probability=probability,
        cautions=tuple(cautions),
    )
    return finding(_quiet(rule, probability), checks, conclusion)


def conclude_pulmonic(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return the grade of the right ventricular outflow; None without its velocity."""
    rule = guideline("pulmonic_stenosis")
    peak = take(exam, "PV_Vmax")
    if not rule.is_for(exam) or peak is None:
        return None
    bands = rule.bands["PV_PG"]
    edges = tuple(sqrt(edge / 4) for edge in bands.edges)
    labels = ("normal", *bands.labels[1:])
    probability = of_bands(edges, labels, peak.value, peak.sd)
    conclusion = Conclusion(
        id="pulmonic-stenosis",
        statement=_statement("pulmonic", "pulmonic stenosis", peak, probability),
        used=(peak,),
        probability=probability,
        cautions=(LOW,) if peak.is_lower_bound else (),
    )
    return finding(_quiet(rule, probability), checks, conclusion)


def _quiet(rule: Guideline, probability: dict[str, float]) -> Guideline:
    """Return the rule without its cautions where the flow is plainly normal."""
    return replace(rule, cautions=()) if probability["normal"] > NOT_DECIDED[1] else rule


def _statement(valve: str, disease: str, peak: Input, probability: dict[str, float]) -> str:
    gradient = 4 * peak.value**2
    bound = "at least " if peak.is_lower_bound else ""
    base = (
        f"{valve.capitalize()} flow {bound}{peak.value:.1f} m/s, gradient {gradient:.0f} mmHg"
    )
    label, share = likeliest(probability)
    if not is_decided(share):
        second = sorted(probability, key=lambda each: -probability[each])[1]
        order = list(probability)
        pair = sorted((label, second), key=order.index)
        return f"{base}: {pair[0]} or {pair[1]}, not decided by today's images."
    if label == "normal":
        return f"{base}: no obstruction by velocity."
    if label == "equivocal":
        return f"{base}: equivocal for {disease}."
    return f"{base}: {label}, if {disease} is the cause."


def _boxer(rule: Guideline, peak: Input) -> str:
    other = rule.bands["AV_PG Boxer"]
    label = other.label(4 * peak.value**2)
    return (
        f"A scheme for Boxers ({other.source}) grades this gradient {label}; the two conflict."
    )
