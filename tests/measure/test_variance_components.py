"""Variance components against published analyses and a reference library."""

from collections.abc import Sequence

import numpy as np
import pytest

from tableside.errors import NotMeasurable
from tableside.measure.variance_components import variance_components

# Peak expiratory flow, l/min, four readings of 20 schoolchildren: Bland and Altman, Statistics
# notes: measurement error, BMJ 1996;313:744, table 1 (read on the journal's page).
PEAK_FLOW = """
190 220 200 200 / 220 200 240 230 / 260 260 240 280 / 210 300 280 265 / 270 265 280 270 /
280 280 270 275 / 260 280 280 300 / 275 275 275 305 / 280 290 300 290 / 320 290 300 290 /
300 300 310 300 / 270 250 330 370 / 320 330 330 330 / 335 320 335 375 / 350 320 340 365 /
360 320 350 345 / 330 340 380 390 / 335 385 360 370 / 400 420 425 420 / 430 460 480 470
"""
# Calcium of turnip leaves, four plants, three leaves each, two determinations each: Snedecor
# and Cochran 1967 p. 286, with the components that a statistics package's manual prints.
CALCIUM = """
3.28 3.09 / 3.52 3.48 / 2.88 2.80 / 2.46 2.44 / 1.87 1.92 / 2.19 2.19 /
2.77 2.66 / 3.74 3.44 / 2.55 2.55 / 3.78 3.87 / 4.07 4.12 / 3.31 3.31
"""
# Dogs by operators, some pairs missing, one to three readings; made at random once.
CROSSED = """
0C .843 .874 .841/0E .961 .963/1A .957/1B 1.101 1.072/1C 1.17 1.15 1.195/1D 1.07 1.09/
1E 1.03 1.064/2A .673/2D .913 .904 .926/2E .863 .768 .852/3A .943 .894/3B 1.055/
3C 1.116 1.148 1.173/3D .841/4A 1.111 1.141/4B .991 1.053/4D .841/4E .972 1.014/
5B 1.106 1.101 1.059/5D .894 1.005 .973/5E .927/6A 1.109/6C 1.258/6D 1.206/6E 1.149 1.239/
7A 1.01/7B 1.046 1.045/7C .873/7D .824/8A 1.056 1.053 1.163/8B 1.229 1.277 1.28/
8C 1.159 1.158 1.091/9C 1.04/9D .815 .802/9E .861/10A 1.13/10B 1.165/10C 1.041/10D 1.06 .998/
11A .759/11C .92/11D .763 .793/11E .773 .831
"""


def rows_of(text: str) -> list[list[float]]:
    return [[float(one) for one in row.split()] for row in text.split("/")]


def test_the_spread_within_children_is_the_published_one() -> None:
    rows = rows_of(PEAK_FLOW)
    values = [one for row in rows for one in row]
    child = [at for at, row in enumerate(rows) for _ in row]
    found = variance_components(values, {"child": child}, "reading")
    # printed analysis of variance: mean squares 15016.78 (19) and 460.52 (60) (memory)
    assert found.variances[1] == pytest.approx(460.52, abs=0.005)
    assert found.variances[0] == pytest.approx((15016.78 - 460.52) / 4, abs=0.01)
    assert found.mean == pytest.approx(np.mean(values))


def test_nested_components_are_the_published_ones() -> None:
    rows = rows_of(CALCIUM)
    values = [one for row in rows for one in row]
    leaf = [at for at, row in enumerate(rows) for _ in row]
    plant = [at // 3 for at in leaf]
    found = variance_components(values, {"plant": plant, "leaf": leaf}, "determination")
    printed = (0.365223, 0.161060, 0.006654)
    assert found.variances == pytest.approx(printed, abs=1e-6)


def test_crossed_unbalanced_components_agree_with_a_reference_library() -> None:
    dog: list[str] = []
    operator: list[str] = []
    values: list[float] = []
    for row in CROSSED.split("/"):
        cell, *readings = row.split()
        dog += [cell[:-1]] * len(readings)
        operator += [cell[-1]] * len(readings)
        values += [float(one) for one in readings]
    cell_of = list(zip(dog, operator, strict=True))
    found = variance_components(
        values, {"dog": dog, "operator": operator, "cell": cell_of}, "reading"
    )
    # statsmodels 0.15.0, MixedLM with vc_formula, REML, bfgs
    expected = (0.0118751, 0.0023858, 0.0062970, 0.00127815)
    assert found.variances == pytest.approx(expected, rel=2e-4)


def nested(dogs: int, days: int, readings: int) -> dict[str, list[tuple[int, ...]]]:
    grid = [(d, k, r) for d in range(dogs) for k in range(days) for r in range(readings)]
    return {"dog": [one[:1] for one in grid], "day": [one[:2] for one in grid]}


def drawn(groups: dict[str, Sequence[object]], sds: Sequence[float], seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    total = sds[-1] * rng.standard_normal(len(next(iter(groups.values()))))
    for sd, labels in zip(sds, groups.values(), strict=False):
        effect = {one: sd * rng.standard_normal() for one in dict.fromkeys(labels)}
        total += [effect[one] for one in labels]
    return total


def test_known_components_are_found_without_bias_and_with_honest_errors() -> None:
    groups = nested(30, 2, 2)
    truth = np.array([0.2, 0.045, 0.03]) ** 2
    found = [
        variance_components(drawn(groups, (0.2, 0.045, 0.03), seed), groups, "reading")
        for seed in range(60)
    ]
    estimates = np.array([one.variances for one in found])
    assert estimates.mean(axis=0) == pytest.approx(truth, rel=0.12)
    claimed = np.array([np.sqrt(np.diag(one.covariance)) for one in found]).mean(axis=0)
    assert estimates.std(axis=0) == pytest.approx(claimed, rel=0.3)


@pytest.mark.parametrize(
    ("dogs", "repeats", "percent"),
    [(10, 3, 31), (20, 2, 31), (30, 2, 25), (30, 3, 18), (50, 2, 20)],
)
def test_the_error_of_a_spread_is_the_textbook_one(
    dogs: int, repeats: int, percent: float
) -> None:
    # 95 % half-width of Sw from n dogs and m repeats: 196 / sqrt(2 n (m - 1)) percent
    dog = [at for at in range(dogs) for _ in range(repeats)]
    values = drawn({"dog": dog}, (0.2, 0.04), seed=dogs)
    found = variance_components(values, {"dog": dog}, "reading")
    variance, error = found.sum_of("reading")
    half_width = 100 * 1.96 * error / variance / 2
    assert half_width == pytest.approx(percent, abs=1.0)


def test_a_component_that_is_not_there_stays_at_zero() -> None:
    # pairs that differ more within than between: the pair explains less than nothing
    values = [1.0, 3.0, 3.1, 1.1, 0.9, 3.2, 3.0, 1.0]
    found = variance_components(values, {"pair": [0, 0, 1, 1, 2, 2, 3, 3]}, "reading")
    assert found.variances[0] == 0.0 and found.variances[1] > 1.0


def test_too_many_values_are_refused_in_a_sentence() -> None:
    with pytest.raises(NotMeasurable, match="at most 3000"):
        variance_components([1.0, 2.0] * 2000, {"dog": [0, 1] * 2000}, "reading")
