"""A joint belief about several quantities as a plain record: draws that belong together."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import fsum


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """Weighted draws: the same place in every tuple is one possible heart.

    ``weights`` add to 1. Quantities are in their own units; shares (RF) are ratios.
    """

    draws: Mapping[str, tuple[float, ...]]
    weights: tuple[float, ...]

    def holds(self, *names: str) -> bool:
        """Return whether all these quantities are in the record."""
        return all(name in self.draws for name in names)

    def probability(self, condition: Callable[[Mapping[str, float]], bool]) -> float:
        """Return the probability of a condition on one heart, given by name and value."""
        names = list(self.draws)
        rows = zip(*self.draws.values(), strict=True)
        return fsum(
            weight
            for weight, row in zip(self.weights, rows, strict=True)
            if condition(dict(zip(names, row, strict=True)))
        )

    def at_least(self, limits: Mapping[str, float]) -> float:
        """Return the probability that all these quantities reach their limits together."""
        chosen = [(self.draws[name], limit) for name, limit in limits.items()]
        return fsum(
            weight
            for at, weight in enumerate(self.weights)
            if all(values[at] >= limit for values, limit in chosen)
        )
