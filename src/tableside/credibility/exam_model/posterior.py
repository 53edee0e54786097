"""What is believed after the readings: weighted draws of everything, and who is at fault."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.observations import Observation
from tableside.errors import NotFound
from tableside.model.joint import Joint

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultPosterior:
    """How likely one reading is unusable, why, and what it should have been.

    ``unusable`` is the probability of a fault plus that of a sound reading more than 30
    degrees off axis. ``by_kind`` splits it. ``should_be`` and ``should_be_sd`` are the true
    value if it is unusable, in the unit of the reading.
    """

    name: str
    quantity: str
    value: float
    unit: str
    unusable: float
    by_kind: Mapping[str, float]
    should_be: float
    should_be_sd: float
    files: tuple[str, ...] = ()
    is_bound: bool = False

    @property
    def likeliest(self) -> str:
        """The likeliest way in which it went wrong."""
        return max(self.by_kind, key=lambda kind: self.by_kind[kind])


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """Weighted draws of every latent and derived quantity, (n,) each, in natural units."""

    draws: Mapping[str, Floats]
    weights: Floats
    faults: Mapping[str, FaultPosterior] = field(default_factory=dict)
    observations: tuple[Observation, ...] = ()
    log_evidence: float = 0.0
    notes: tuple[str, ...] = ()

    @property
    def effective_draws(self) -> float:
        """How many draws of equal weight these are worth."""
        return float(1 / (self.weights**2).sum())

    def of(self, name: str) -> Floats:
        """Return the draws of a quantity; the error lists the known ones."""
        if name not in self.draws:
            raise NotFound(
                f"no quantity {name!r} in the model; there are {', '.join(self.draws)}"
            )
        return self.draws[name]

    def mean(self, name: str) -> float:
        """Return the posterior mean."""
        return float(self.weights @ self.of(name))

    def sd(self, name: str) -> float:
        """Return the posterior standard deviation."""
        values = self.of(name)
        return sqrt(max(float(self.weights @ (values - self.mean(name)) ** 2), 0.0))

    def quantile(self, name: str, share: float | Sequence[float]) -> Floats:
        """Return the values below which these shares of the belief lie."""
        values = self.of(name)
        order = np.argsort(values, kind="stable")
        weight = self.weights[order]
        below = np.cumsum(weight) - 0.5 * weight
        return np.asarray(np.interp(share, below, values[order]))

    def interval90(self, name: str) -> tuple[float, float]:
        """Return the interval that holds the truth nine times in ten."""
        low, high = self.quantile(name, (0.05, 0.95))
        return float(low), float(high)

    def probability(
        self, condition: Callable[[Mapping[str, Floats]], NDArray[np.bool_]]
    ) -> float:
        """Return the probability of a condition on the draws, an array of true and false."""
        return float(self.weights @ np.asarray(condition(self.draws), dtype=np.float64))

    def share_below(self, name: str, value: float) -> float:
        """Return the probability that the quantity lies below a value."""
        return float(self.weights @ (self.of(name) < value))

    def joint(self, *names: str, size: int = 400) -> Joint:
        """Return a thinned plain record of some quantities, draws of equal weight."""
        chosen = names or tuple(self.draws)
        edges = (np.arange(size) + 0.5) / size
        rows = np.searchsorted(np.cumsum(self.weights), edges * self.weights.sum())
        rows = np.minimum(rows, len(self.weights) - 1)
        return Joint(
            draws={name: tuple(self.of(name)[rows].tolist()) for name in chosen},
            weights=(1 / size,) * size,
        )
