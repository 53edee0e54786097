"""The posterior as a few hundred hearts of equal weight, in an order of their own."""

from collections.abc import Mapping
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.observations import Observation
from tableside.credibility.exam_model.posterior import FaultPosterior

Floats = NDArray[np.float64]
Hearts = Mapping[str, Floats]
ORDER = ("LVIDd", "LA:Ao", "SBP")


class Belief(Protocol):
    """What the ranking needs of a fitted examination."""

    @property
    def draws(self) -> Mapping[str, Floats]:
        """Draws of every quantity, (n,) each."""

    @property
    def weights(self) -> Floats:
        """Their weights, (n,)."""

    @property
    def faults(self) -> Mapping[str, FaultPosterior]:
        """How likely each reading is unusable."""

    @property
    def observations(self) -> tuple[Observation, ...]:
        """The readings as the model saw them."""


def hearts(belief: Belief, count: int) -> Hearts:
    """Return ``count`` hearts of equal weight.

    Notes
    -----
    The draws are put in the order of their values before every ``1 / count`` of the weight
    gives one, so that the same draws in another order give the same hearts.
    """
    weights = np.asarray(belief.weights, dtype=np.float64)
    keys = [belief.draws[name] for name in reversed(ORDER) if name in belief.draws]
    if not keys:
        keys = [belief.draws[name] for name in sorted(belief.draws, reverse=True)][-3:]
    order = np.lexsort(keys)
    edges = (np.arange(count) + 0.5) / count
    rows = np.searchsorted(np.cumsum(weights[order]), edges * weights.sum())
    chosen = order[np.minimum(rows, len(order) - 1)]
    return {name: np.asarray(values)[chosen] for name, values in belief.draws.items()}
