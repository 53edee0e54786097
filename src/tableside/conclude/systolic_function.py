"""Systolic function in words: shortening against the range of species, breed and size.

Sources: [nelsoncouto6]; breeds [koch1996], [herrtage1994], [vet360]; larger dogs shorten less
[visser2019]; ejection fraction [dukes2003].
"""

from collections.abc import Mapping, Sequence
from typing import Any

from tableside.conclude.chance import is_decided, likeliest, of_bands
from tableside.conclude.compose import Conclusion, finding
from tableside.conclude.guideline import guideline, is_breed
from tableside.conclude.inputs import take
from tableside.model import Check, Exam, Finding

LABELS = ("reduced", "within the range", "above the range")
LEAK = (
    "Mitral regurgitation unloads the ventricle: shortening within the range can hide weakness."
)


def conclude(exam: Exam, checks: Sequence[Check] = ()) -> Finding | None:
    """Return systolic function in words; None without shortening."""
    rule = guideline("systolic_function")
    shortening, fraction = take(exam, "FS"), take(exam, "EF_discs")
    chosen = _range(exam, rule.ranges)
    if shortening is None or chosen is None:
        return None
    name, line = chosen
    edges = (line["low"], line["high"])
    probability = of_bands(edges, LABELS, shortening.value, shortening.sd)
    label, share = likeliest(probability)
    words = f"Shortening {label}"
    if not is_decided(share):
        second = sorted(probability, key=lambda each: -probability[each])[1]
        words = f"Shortening {label} or {second}, not decided by today's images"
    span = f"{line['low']:g} to {line['high']:g} % in {_plural(name)}"
    cautions = [LEAK] if exam.measurement("MR_Vmax") is not None else []
    if "note" in line:
        cautions.append(f"Range: {line['note']}.")
    if fraction is not None:
        limit = rule.limits["EF_discs"]
        low = limit.chance(fraction.value, fraction.sd) > 0.5
        words += f"; ejection fraction {'below' if low else 'not below'} {limit.value:g} %"
    conclusion = Conclusion(
        id="systolic-function",
        statement=f"{words} (FS {span}).",
        used=tuple(one for one in (shortening, fraction) if one is not None),
        probability=probability,
        cautions=tuple(cautions),
        source=line.get("source"),
    )
    return finding(rule, checks, conclusion)


def _range(exam: Exam, ranges: Mapping[str, Any]) -> tuple[str, Mapping[str, Any]] | None:
    """Return the first range that fits the patient."""
    patient = exam.patient
    for name, line in ranges.items():
        if line["species"] != patient.species:
            continue
        if "breeds" in line and not is_breed(patient.breed, line["breeds"]):
            continue
        if "above_kg" in line and (patient.weight_kg or 0.0) < line["above_kg"]:
            continue
        return name, line
    return None


def _plural(name: str) -> str:
    return name if name.endswith("s") else f"{name}s"
