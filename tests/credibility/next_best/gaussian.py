"""A decision along one normal number: by the ranker's own steps, and by quadrature."""

from math import erfc, sqrt
from statistics import NormalDist

import numpy as np

from tableside.credibility.exam_model.observations import Kind, Observation
from tableside.credibility.exam_model.tables import table as error_table
from tableside.credibility.next_best.decisions import Table
from tableside.credibility.next_best.losses import Decision
from tableside.credibility.next_best.readings import NextReading
from tableside.credibility.next_best.value import gains

HEARTS = 2400
OUTER = 256
NO_ANGLE: dict[str, float] = {
    "angle.slope_deg": 12.0,
    "angle.cube_deg": 2.0,
    "angle.largest_deg": 80.0,
    "angle.usable_deg": 30.0,
}


def decision(missed: float = 4.0, false: float = 1.0) -> Decision:
    return Decision(
        id="cut",
        question="above the cut",
        rule="all above",
        numbers=("x",),
        concerns=("x",),
        missed=missed,
        false=false,
    )


def values(mean: float, sd: float, count: int = HEARTS) -> np.ndarray:
    normal = NormalDist(mean, sd)
    return np.array([normal.inv_cdf((at + 0.5) / count) for at in range(count)])


def losses_above(cut: float, truth: np.ndarray, one: Decision) -> Table:
    answers = (truth >= cut).astype(np.int64)
    actions = np.arange(2)[:, None]
    cost = one.missed * ((actions == 0) & (answers == 1)) + one.false * (
        (actions == 1) & (answers == 0)
    )
    return Table(decision=one, losses=cost.astype(np.float64), answers=answers)


def reading(truth: np.ndarray, sd: float) -> NextReading:
    kind = Kind("x", "length")
    read = Observation(
        name="x", quantity="x", kind=kind, given=0.0, value=0.0, sd=sd, is_linear=True
    )
    return NextReading("x", truth, error_table(read, NO_ANGLE, False))


def gain(mean: float, sd: float, cut: float, sd_repeat: float, **costs: float) -> float:
    truth = values(mean, sd)
    one = decision(**costs)
    found = gains([losses_above(cut, truth, one)], [reading(truth, sd_repeat)], OUTER)
    return found["cut"]


def loss(mean: float, sd: float, cut: float, missed: float = 4.0, false: float = 1.0) -> float:
    above = 0.5 * erfc((cut - mean) / (sd * sqrt(2)))
    return min(missed * above, false * (1 - above))


def gain_by_quadrature(mean: float, sd: float, cut: float, sd_repeat: float) -> float:
    """Normal prior and reading: the posterior mean is normal, its sd known.

    Summed on a fine grid: the smaller of two losses has a kink, which a Gauss-Hermite rule of
    61 nodes misses by up to 0.008.
    """
    spread = sd**2 / sqrt(sd**2 + sd_repeat**2)
    after = sd * sd_repeat / sqrt(sd**2 + sd_repeat**2)
    nodes = np.linspace(-8, 8, 8001)
    weights = np.exp(-0.5 * nodes**2)
    expected = sum(
        w * loss(mean + spread * x, after, cut) for x, w in zip(nodes, weights, strict=True)
    )
    return loss(mean, sd, cut) - float(expected / weights.sum())
