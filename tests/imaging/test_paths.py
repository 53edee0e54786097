"""Lines through images of costs, against lines found by trying them all."""

from itertools import pairwise, product

import numpy as np
import pytest

from tableside.errors import OutOfRange
from tableside.imaging.paths import best_path, path_marginals, path_posterior

SMOOTH, REACH = 0.7, 2


def energy(cost: np.ndarray, line: tuple[int, ...]) -> float:
    steps = sum((after - before) ** 2 for before, after in pairwise(line))
    return float(cost[line, range(len(line))].sum() + SMOOTH * steps)


def lines(rows: int, columns: int) -> list[tuple[int, ...]]:
    every = product(range(rows), repeat=columns)
    return [line for line in every if all(abs(a - b) <= REACH for a, b in pairwise(line))]


@pytest.mark.parametrize("seed", range(5))
def test_the_line_is_the_cheapest_of_all(seed: int) -> None:
    cost = np.random.default_rng(seed).normal(size=(5, 6))
    cheapest = min(lines(5, 6), key=lambda line: energy(cost, line))
    found = best_path(cost, smooth=SMOOTH, reach=REACH)
    assert tuple(np.abs(found - cheapest) <= 0.5) == (True,) * 6


@pytest.mark.parametrize("seed", range(5))
def test_the_probabilities_are_those_of_the_sum_over_all_lines(seed: int) -> None:
    cost = np.random.default_rng(seed).normal(size=(4, 5))
    expected = np.zeros_like(cost)
    for line in lines(4, 5):
        expected[line, range(5)] += np.exp(-energy(cost, line) / 0.8)
    expected /= expected.sum(axis=0)
    found = path_marginals(cost, smooth=SMOOTH, reach=REACH, temperature=0.8)
    assert found == pytest.approx(expected, abs=1e-6)


def test_a_flat_cost_is_unsure_and_a_sharp_one_is_not() -> None:
    rows = np.arange(60.0)[:, None]
    sharp = np.broadcast_to((rows - 30.25) ** 2, (60, 40))
    mean, sd = path_posterior(sharp, smooth=0.1, reach=3, temperature=1.0)
    assert mean == pytest.approx(30.25, abs=0.05) and sd.max() < 0.8
    _, sd = path_posterior(np.zeros((60, 40)), smooth=0.1, reach=3, temperature=1.0)
    assert sd.min() > 10.0  # far above that of the sharp one; a uniform row has 17.3


def test_an_empty_image_is_refused() -> None:
    with pytest.raises(OutOfRange, match="none empty"):
        best_path(np.zeros((0, 4)), smooth=1.0, reach=1)
