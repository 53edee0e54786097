"""Simulation-based calibration: the belief must be as sure as it may be, and no surer.

A heart is drawn, read, and fitted. Where the truth lies in the belief (its rank) must be even
in the model's own world, and 90 % intervals must hold the truth nine times in ten; in worlds
unlike the model they should still hold it eight times in ten.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.fit import fit
from tableside.credibility.exam_model.posterior import Posterior
from tableside.credibility.exam_model.settings import FitOptions
from tableside.credibility.exam_model.simulate import World, simulate
from tableside.credibility.exam_model.templates import TEMPLATES, template

Floats = NDArray[np.float64]
WATCHED = (
    "LVIDd", "LVIDs", "FS", "IVSd", "LVPWd", "Ao", "LA", "LA:Ao", "LVIDDN", "SBP", "LAP", "RF",
    "TRPG", "SV", "HR", "E", "MR_Vmax", "TR_Vmax", "AV_Vmax", "angle:MR_Vmax", "angle:TR_Vmax",
)  # fmt: skip
BINS = 10
LARGEST_CHI2 = 21.7  # 1 % of a chi-square with 9 degrees of freedom


@dataclass(frozen=True, slots=True)
class Calibration:
    """How one quantity fared: how often 90 % intervals held it, ranks, and its bias in sd."""

    name: str
    simulations: int
    coverage: float
    chi2: float
    bias_sd: float


@dataclass(frozen=True, slots=True)
class CalibrationRun:
    """All quantities in one world, with the cost of a fit."""

    world: str
    rows: tuple[Calibration, ...]
    median_ms: float
    effective_draws: tuple[float, float]  # the worst in a hundred, the median


def calibrate(world: World, simulations: int, seed: int) -> CalibrationRun:
    """Simulate, fit and rank; the template exams take turns."""
    rng = np.random.default_rng(seed)
    names = list(TEMPLATES)
    ranks: dict[str, list[tuple[float, float]]] = {name: [] for name in WATCHED}
    took, worth = [], []
    for nth in range(simulations):
        made = simulate(template(names[nth % len(names)]), world, rng)
        started = perf_counter()
        found = fit(made.exam)
        took.append(1e3 * (perf_counter() - started))
        worth.append(found.effective_draws)
        for name in WATCHED:
            if name in found.draws and name in made.truth:
                ranks[name].append(_rank(found, name, made.truth[name]))
    return CalibrationRun(
        world.name,
        tuple(_row(name, np.array(found)) for name, found in ranks.items() if found),
        float(np.median(took)),
        (float(np.percentile(worth, 1)), float(np.median(worth))),
    )


def change_with_spreads(simulations: int, seed: int, factor: float) -> Floats:
    """Return how far the probability of B2 moves when every prior spread changes so much."""
    rng = np.random.default_rng(seed)
    return np.array(list(_moves(simulations, rng, factor)))


def _moves(simulations: int, rng: np.random.Generator, factor: float) -> Iterator[float]:
    names = list(TEMPLATES)
    world = World(has_faults=False)
    for nth in range(simulations):
        exam = simulate(template(names[nth % len(names)]), world, rng).exam
        usual = _stage_b2(fit(exam))
        yield abs(_stage_b2(fit(exam, options=FitOptions(spread_factor=factor))) - usual)


def _stage_b2(found: Posterior) -> float:
    return found.probability(lambda d: (d["LA:Ao"] >= 1.6) & (d["LVIDDN"] >= 1.7))


def _rank(found: Posterior, name: str, truth: float) -> tuple[float, float]:
    values = found.of(name)
    below = found.weights @ ((values < truth) + 0.5 * (values == truth))
    return float(below), (truth - found.mean(name)) / max(found.sd(name), 1e-12)


def _row(name: str, found: Floats) -> Calibration:
    ranks = found[:, 0]
    counts, _ = np.histogram(ranks, BINS, (0.0, 1.0))
    even = len(ranks) / BINS
    inside = (ranks > 0.05) & (ranks < 0.95)
    return Calibration(
        name,
        len(ranks),
        float(inside.mean()),
        float(((counts - even) ** 2 / even).sum()),
        float(np.median(found[:, 1])),
    )
