"""Deterministic draws from correlated normal numbers: the same input gives the same output.

Points of an additive recurrence (the powers of the inverse of the generalised golden ratio)
fill the unit cube evenly; the inverse normal turns them into draws.
"""

from collections.abc import Iterator, Sequence
from math import sqrt
from statistics import NormalDist

DRAWS = 4096


def even_points(count: int, dimensions: int) -> Iterator[tuple[float, ...]]:
    """Yield points that fill the open unit cube evenly."""
    root = 2.0
    for _ in range(40):
        root = (1 + root) ** (1 / (dimensions + 1))
    steps = [root ** -(at + 1) % 1.0 for at in range(dimensions)]
    for n in range(1, count + 1):
        yield tuple((0.5 + n * step) % 1.0 or 0.5 / count for step in steps)


def normal_draws(
    numbers: Sequence[tuple[float, float]], together: float = 0.0, count: int = DRAWS
) -> Iterator[tuple[float, ...]]:
    """Yield draws of normal numbers, each given as value and sd.

    ``together`` is the correlation of the last number with the one before it; all others are
    independent.
    """
    standard = NormalDist()
    rest = sqrt(max(0.0, 1 - together**2))
    for point in even_points(count, len(numbers)):
        z = [standard.inv_cdf(one) for one in point]
        if len(z) > 1:
            z[-1] = together * z[-2] + rest * z[-1]
        yield tuple(value + sd * each for (value, sd), each in zip(numbers, z, strict=True))
