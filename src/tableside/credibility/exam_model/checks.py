"""From fault posteriors to checks: one for each thing that is likely wrong, and one list.

What went wrong once is said once: a slip of one scale is one check about all its readings, a
swap of phases one check about both. `merge` puts these beside the single laws, so that a
number that both doubt has one message.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from tableside.credibility.exam_model.observations import Observation
from tableside.credibility.exam_model.posterior import FaultPosterior, Posterior
from tableside.credibility.exam_model.problem import SCALE, SWAPPED
from tableside.credibility.exam_model.settings import FitOptions, constants, remedy
from tableside.credibility.exam_model.tables import OFF_AXIS
from tableside.credibility.manoeuvres import manoeuvre
from tableside.model import Check, Exam, Verdict
from tableside.units import text

PRESSURE_DRIVEN = ("MR_Vmax", "AR_Vmax")
ENOUGH_READINGS = 5
WORDS = {
    OFF_AXIS: "a beam off axis",
    "incomplete": "an incomplete envelope or low gain",
    "wrong structure or flow": "another structure or flow",
    SWAPPED: "the wrong phase, or two phases swapped",
    SCALE: "the scale",
    "copied wrong": "a slip in copying",
    "wrong weight": "pounds taken for kilograms, or a slipped digit",
    "cuff": "cuff, limb or excitement",
}
SEVERITY = {Verdict.FAILS: 0, Verdict.DOUBTFUL: 1, Verdict.HOLDS: 2, Verdict.NOT_ASSESSED: 3}
SIZES_BY_WEIGHT = ("weight-unit", "calibration-against-aorta", "joint-allometry")
WORTH_NAMING = 0.1  # of what makes it unusable


def fault_checks(posterior: Posterior, exam: Exam) -> tuple[Check, ...]:
    """Return one check for each thing that is likely wrong, worst first.

    Parameters
    ----------
    posterior : Posterior
        What `fit` returned for the exam.
    exam : Exam

    Returns
    -------
    tuple of Check
        ``about`` names the readings that are doubted; ``message`` says why, and what they
        should have been; ``remedy`` is one manoeuvre. Empty when nothing is doubted.
    """
    p = constants(exam.patient.species, FitOptions())
    seen = {one.name: one for one in posterior.observations}
    doubted = [one for one in posterior.faults.values() if one.unusable >= p["card.doubtful"]]
    groups: dict[str, list[FaultPosterior]] = {}
    for one in sorted(doubted, key=lambda fault: -fault.unusable):
        groups.setdefault(_event(one, seen[one.name]), []).append(one)
    fails = p["card.fails"]
    found = [_check(group, seen[group[0].name], exam, fails) for group in groups.values()]
    return tuple(sorted(found, key=_worst_first))


def merge(single: Iterable[Check], joint: Iterable[Check]) -> tuple[Check, ...]:
    """Return one list, worst first, without two messages about the same thing.

    Notes
    -----
    A law that doubts the number that a joint check doubts becomes part of that check. A law
    that doubts another number because of it is left out: the joint check explains it. All
    other laws stay as they are.
    """
    left = list(single)
    found = []
    for one in joint:
        names = set(one.about)
        doubts = [law for law in left if _is_doubt(law) and _concerns(law, names)]
        same = [law for law in doubts if law.about[0] in names]
        found.append(_joined(one, same))
        left = [law for law in left if law not in doubts]
    return tuple(sorted([*found, *left], key=_worst_first))


def _event(one: FaultPosterior, seen: Observation) -> str:
    if one.likeliest in (SCALE, SWAPPED) and seen.scale:
        return f"{one.likeliest} {seen.scale}"
    return one.name


def _check(
    group: Sequence[FaultPosterior], seen: Observation, exam: Exam, fails: float
) -> Check:
    worst = group[0]
    step = _remedy(worst, seen, exam, fails)
    known = None if step is None else manoeuvre(step)
    is_failing = worst.unusable >= fails
    return Check(
        id=f"odd-one-out-{worst.name.replace(' ', '-')}",
        verdict=Verdict.FAILS if is_failing else Verdict.DOUBTFUL,
        about=tuple(dict.fromkeys(one.quantity for one in group)),
        message=_message(group),
        expected=_expected(group),
        probability_unusable=round(worst.unusable, 4),
        remedy=None if known is None else known.sentence,
        seconds=None if known is None else known.seconds,
        files=tuple(dict.fromkeys(file for one in group for file in one.files)),
        sources=("design",),
    )


def _remedy(worst: FaultPosterior, seen: Observation, exam: Exam, fails: float) -> str | None:
    """Return what settles it; a jet that pressure may explain asks for the pressure first."""
    readings = exam.visit.systolic_pressure_readings
    is_open = worst.unusable < fails and worst.quantity in PRESSURE_DRIVEN
    if is_open and (readings is None or readings <= ENOUGH_READINGS):
        return "cuff-series"
    return remedy(worst.quantity, worst.likeliest, seen.dimension)


def _message(group: Sequence[FaultPosterior]) -> str:
    worst = group[0]
    given = ", ".join(_written(one) for one in group)
    verb = "does" if len(group) == 1 else "do"
    return (
        f"{given} {verb} not fit the rest of the examination (probably unusable: "
        f"{worst.unusable:.2f}). {_expected(group)} would fit. Likely, in order: "
        f"{_causes(worst)}."
    )


def _expected(group: Sequence[FaultPosterior]) -> str:
    return ", ".join(f"{one.name} {_fitting(one)}" for one in group)


def _written(one: FaultPosterior) -> str:
    bound = "at least " if one.is_bound else ""
    return f"{one.name} {bound}{one.value:.3g} {text(one.unit)}".rstrip()


def _fitting(one: FaultPosterior) -> str:
    decimals = 0 if one.should_be >= 20 else 1 if one.should_be >= 3 else 2
    return (
        f"{one.should_be:.{decimals}f} ± {one.should_be_sd:.{decimals}f} {text(one.unit)}"
    ).rstrip()


def _causes(one: FaultPosterior) -> str:
    order = sorted(one.by_kind, key=lambda kind: -one.by_kind[kind])
    named = [kind for kind in order if one.by_kind[kind] >= WORTH_NAMING * one.unusable]
    return "; ".join(WORDS[kind] for kind in named[:3])


def _joined(one: Check, same: Sequence[Check]) -> Check:
    """Tell it as the law does, which says why; add what the rest of the examination says."""
    if not same:
        return one
    law = min(same, key=_worst_first)
    return replace(
        law,
        verdict=min(one.verdict, law.verdict, key=lambda each: SEVERITY[each]),
        about=tuple(dict.fromkeys((*law.about, *one.about))),
        probability_unusable=max(one.probability_unusable or 0, law.probability_unusable or 0),
        message=f"{law.message} With all other numbers, {one.expected} would fit.",
        remedy=law.remedy or one.remedy,
        seconds=law.seconds if law.remedy else one.seconds,
        expected=one.expected,
        files=tuple(dict.fromkeys((*law.files, *one.files))),
        sources=tuple(dict.fromkeys((*one.sources, *(s for law in same for s in law.sources)))),
    )


def _concerns(law: Check, names: set[str]) -> bool:
    """Return whether a law doubts one of these, or a size that hangs on a wrong weight."""
    by_weight = "weight" in names and law.id in SIZES_BY_WEIGHT
    return by_weight or bool(names & set(law.about))


def _is_doubt(law: Check) -> bool:
    return law.verdict in (Verdict.DOUBTFUL, Verdict.FAILS)


def _worst_first(check: Check) -> tuple[int, float, str]:
    return SEVERITY[check.verdict], -(check.probability_unusable or 0.0), check.id
