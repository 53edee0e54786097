"""All sizes off by one factor speak for the weight or the depth scale, not for the heart.

Row 24 of the rule table. A weight in pounds taken for kilograms is 2.2 times too large and
makes every size look small (LVIDDN by 2.2^0.294 = 1.26); a wrong depth scale moves every size
by the same factor. Each explanation is weighed against a healthy or diseased dog.

Sources: sizes [cornell2004]; 1 kg = 2.2046 lb; shares of slips a design choice.
"""

from dataclasses import dataclass
from math import exp, log

import numpy as np

from tableside.credibility.allometry import SIZES, Floats, covariance, log_density
from tableside.credibility.evidence import Seen, files_of, seen
from tableside.credibility.fault import DOUBTFUL
from tableside.credibility.law import Judgement, Law
from tableside.model import Exam, Species

POUNDS_A_KG = 2.2046
FEWEST = 3
BUILD_SPREAD = 0.05  # log; one dog is fatter or of another build than the next
DISEASE = ((0.7, 0.0, 0.0), (0.2, 0.25, 0.0), (0.1, -0.05, 0.26))  # share, cavity, walls
DISEASE_SPREAD = 0.12


@dataclass(frozen=True, slots=True)
class Slip:
    """One way to go wrong: its share, the factors on weight and lengths, and its words."""

    prior: float
    weight_factor: float
    length_factor: float
    words: str
    about: str
    manoeuvre: str


SLIPS = (
    Slip(0.06, POUNDS_A_KG, 1.0, "the weight was entered in pounds", "weight", "weigh"),
    Slip(0.01, 1 / POUNDS_A_KG, 1.0, "the weight was halved on conversion", "weight", "weigh"),
    Slip(0.01, 10.0, 1.0, "the weight is ten times too large", "weight", "weigh"),
    Slip(0.01, 0.1, 1.0, "the weight is ten times too small", "weight", "weigh"),
    Slip(0.01, 1.0, 2.0, "the depth scale is doubled", "LVIDd", "depth-scale"),
    Slip(0.01, 1.0, 0.5, "the depth scale is halved", "LVIDd", "depth-scale"),
    Slip(0.005, 1.0, 10.0, "millimetres were taken for centimetres", "LVIDd", "depth-scale"),
    Slip(0.005, 1.0, 0.1, "centimetres were taken for millimetres", "LVIDd", "depth-scale"),
)


def judge(exam: Exam) -> Judgement | str | None:
    """Weigh a slip of weight or scale against a true heart of this dog."""
    weight = exam.patient.weight_kg
    ones = [one for name in SIZES if (one := seen(exam, name)) is not None and one.value > 0]
    if weight is None or weight <= 0:
        return "Not recorded: the body weight."
    if len(ones) < FEWEST:
        return None
    share = _shares(ones, weight)
    worst = max(SLIPS, key=lambda slip: share[slip])
    wrong = sum(share.values())
    alike = sum(share[slip] for slip in SLIPS if slip.about == worst.about)
    return Judgement(
        wrong=wrong,
        unusable=alike,
        message=_message(ones, weight, worst, wrong),
        manoeuvre=worst.manoeuvre,
        about=(worst.about, *(one.name for one in ones if one.name != worst.about)),
        files=() if worst.about == "weight" else files_of(*ones),
    )


def _shares(ones: list[Seen], weight_kg: float) -> dict[Slip, float]:
    """Return the probability of each slip; what is missing to 1 is that there is none."""
    fine = log(1 - sum(slip.prior for slip in SLIPS)) + _evidence(ones, weight_kg, None)
    cases = {slip: log(slip.prior) + _evidence(ones, weight_kg, slip) for slip in SLIPS}
    top = max(fine, *cases.values())
    total = exp(fine - top) + sum(exp(case - top) for case in cases.values())
    return {slip: exp(case - top) / total for slip, case in cases.items()}


def _evidence(ones: list[Seen], weight_kg: float, slip: Slip | None) -> float:
    """Return the log probability of the sizes, over healthy and diseased hearts."""
    weight = weight_kg if slip is None else weight_kg / slip.weight_factor
    factor = 1.0 if slip is None else slip.length_factor
    names = tuple(one.name for one in ones)
    off = np.array([log(one.value / factor) - SIZES[one.name].centre(weight) for one in ones])
    parts = []
    for share, cavity, walls in DISEASE:
        shift, extra = _disease(names, cavity, walls)
        spread = covariance(names) + np.diag(np.array([one.share for one in ones]) ** 2 + extra)
        parts.append(log(share) + log_density(off - shift, spread + BUILD_SPREAD**2))
    top = max(parts)
    return top + log(sum(exp(part - top) for part in parts))


def _disease(names: tuple[str, ...], cavity: float, walls: float) -> tuple[Floats, Floats]:
    by_structure = {"cavity": cavity, "septum": walls, "free wall": walls, "aorta": 0.0}
    shift = np.array([by_structure[SIZES[name].structure] for name in names])
    return shift, np.where(shift == 0, 0.0, DISEASE_SPREAD**2)


def _message(ones: list[Seen], weight_kg: float, worst: Slip, wrong: float) -> str:
    off = [log(one.value) - SIZES[one.name].centre(weight_kg) for one in ones]
    mean = exp(float(np.mean(off)))
    text = (
        f"{len(ones)} sizes are on average {mean:.2f} times those of a healthy dog of "
        f"{weight_kg:g} kg"
    )
    if wrong < DOUBTFUL:
        return f"{text}: no sign of a wrong weight or scale."
    z = float(
        np.mean([each / SIZES[one.name].spread for each, one in zip(off, ones, strict=True)])
    )
    true_kg = weight_kg / worst.weight_factor
    would = f" ({true_kg:.3g} kg would fit)" if worst.about == "weight" else ""
    return (
        f"{text} ({z:+.1f} SD on average), all the same way. Most likely "
        f"{worst.words}{would}; then a zoomed image, then an unusual build."
    )


LAW = Law(
    id="weight-unit",
    about=("weight", "LVIDd"),
    needs=(),
    judge=judge,
    sources=("cornell2004",),
    species=Species.DOG,
    concerns=("LVIDd", "IVSd", "Ao"),
)
