r"""The six sizes of the left ventricle belong to one dog of this weight.

.. math:: d^2 = r^T \Sigma^{-1} r, \qquad r = \ln x - \ln\left(k\,BW^b\right)

Row 23 of the rule table. Disease moves several sizes together (a large cavity, thick walls)
and is allowed for; a slip moves one alone. Each size in turn is taken as the wrong one, and
Bayes' rule weighs these against "none is wrong"; the two likeliest are named.

Sources: sizes [cornell2004]; disease states and correlations a design choice
(docs/checks.md); 16.8 and 22.5 are the 1 % and 0.1 % points of chi-squared with 6 degrees.
"""

from math import exp, hypot, log

import numpy as np

from tableside.credibility.allometry import SIZES, Floats, covariance, log_density
from tableside.credibility.evidence import Seen, files_of, seen
from tableside.credibility.fault import DOUBTFUL, FAULT_PRIOR
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam, Species

NAMES = ("LVIDd", "LVIDs", "IVSd", "IVSs", "LVPWd", "LVPWs")
FEWEST = 3
FAULT_SPREAD = 0.9  # log; from a swapped calliper to a tenfold slip
# a state of the heart: share, shift of the log, and further spread, by structure
STATES: tuple[tuple[float, dict[str, tuple[float, float]]], ...] = (
    (0.60, {}),
    (0.22, {"cavity": (0.22, 0.15)}),
    (0.08, {"cavity": (0.30, 0.20), "septum": (-0.10, 0.12), "free wall": (-0.10, 0.12)}),
    (0.10, {"septum": (0.26, 0.2), "free wall": (0.26, 0.2), "cavity": (-0.10, 0.15)}),
)


def judge(exam: Exam) -> Judgement | str | None:
    """Judge the sizes together and name the two likeliest to be wrong."""
    weight = exam.patient.weight_kg
    ones = [one for name in NAMES if (one := seen(exam, name)) is not None and one.value > 0]
    if weight is None or not 0.4 <= weight <= 120:
        return "Needs a body weight between 0.4 and 120 kg."
    if len(ones) < FEWEST:
        return None
    off = np.array([log(one.value) - SIZES[one.name].centre(weight) for one in ones])
    suspects = _suspects(ones, off)
    wrong = min(1.0, sum(suspects.values()))
    first, second = sorted(suspects, key=lambda name: (-suspects[name], name))[:2]
    return Judgement(
        wrong=wrong,
        unusable=suspects[first],
        message=_message(ones, off, (first, second), wrong),
        manoeuvre="wall-edges",
        about=(first, second),
        files=files_of(*(one for one in ones if one.name == first)),
    )


def _suspects(ones: list[Seen], off: Floats) -> dict[str, float]:
    """Return the probability that each size, alone, is wrong."""
    prior = FAULT_PRIOR / len(ones)
    fine = log(1 - FAULT_PRIOR) + _evidence(ones, off, None)
    cases = {one.name: log(prior) + _evidence(ones, off, at) for at, one in enumerate(ones)}
    top = max(fine, *cases.values())
    total = exp(fine - top) + sum(exp(case - top) for case in cases.values())
    return {name: exp(case - top) / total for name, case in cases.items()}


def _evidence(ones: list[Seen], off: Floats, faulty: int | None) -> float:
    names = tuple(one.name for one in ones)
    reading = np.array([one.share for one in ones])
    parts = []
    for share, changes in STATES:
        moved = [changes.get(SIZES[name].structure, (0.0, 0.0)) for name in names]
        shift = np.array([shift for shift, _ in moved])
        extra = np.array([spread for _, spread in moved])
        spread = covariance(names) + np.diag(reading**2 + extra**2)
        if faulty is not None:
            spread[faulty, faulty] += FAULT_SPREAD**2
        parts.append(log(share) + log_density(off - shift, spread))
    top = max(parts)
    return top + log(sum(exp(part - top) for part in parts))


def distance_squared(ones: list[Seen], off: Floats) -> float:
    """Return the squared Mahalanobis distance from a healthy dog of this weight."""
    names = tuple(one.name for one in ones)
    spread = covariance(names) + np.diag(np.array([one.share for one in ones]) ** 2)
    return float(off @ np.linalg.solve(spread, off))


def _message(ones: list[Seen], off: Floats, pair: tuple[str, str], wrong: float) -> str:
    distance = distance_squared(ones, off)
    text = f"{len(ones)} sizes of the left ventricle together: distance {distance:.1f}"
    if wrong < DOUBTFUL:
        return f"{text}; no single size stands out."
    by_name = {one.name: (one, each) for one, each in zip(ones, off, strict=True)}
    parts = []
    for name in pair:
        one, each = by_name[name]
        z = each / hypot(SIZES[name].spread, one.share)
        parts.append(f"{name} {one.value:.2f} cm ({z:+.1f} SD for this weight)")
    return (
        f"{text}; {parts[0]} stands out from the others, then {parts[1]}. Likely, in order: a "
        "calliper on another structure; a swap of two sizes; cm and mm mixed."
    )


LAW = Law(
    id="joint-allometry",
    about=NAMES,
    needs=("weight",),
    judge=judge,
    sources=("cornell2004",),
    species=Species.DOG,
    concerns=("LVIDd", "LVIDs", "IVSd"),
)
