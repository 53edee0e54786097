"""The value of a repeat against the closed form of a normal threshold problem.

The table of examples (cost of a missed disease 4, of a false label 1) was computed apart from
this package by Gauss-Hermite quadrature with 61 nodes, which is itself off by up to 0.008: a
repeat's sd equals that of the belief before it (one reading, flat prior), n repeats shrink it
by sqrt(n). The closed form summed finely is the sharper check.
"""

from math import sqrt

import pytest
from tests.credibility.next_best.gaussian import gain, gain_by_quadrature, loss

EXAMPLES = (
    # mean, sd, cut, n, gain as printed
    (1.66, 0.075, 1.7, 1, "0.28"),
    (1.66, 0.075, 1.7, 3, "0.43"),
    (1.66, 0.075, 1.7, 5, "0.49"),
    (1.55, 0.17, 1.6, 1, "0.18"),
    (1.55, 0.17, 1.6, 3, "0.33"),
    (1.55, 0.17, 1.6, 5, "0.38"),
    (1.95, 0.08, 1.7, 1, "0.00"),
)
LATTICE = 0.008  # error of 2,400 hearts and 256 outer draws
RULE = 0.008  # error of the rule behind the printed examples


@pytest.mark.parametrize(("mean", "sd", "cut", "n", "printed"), EXAMPLES)
def test_the_printed_examples_come_out(
    mean: float, sd: float, cut: float, n: int, printed: str
) -> None:
    found = gain(mean, sd, cut, sd / sqrt(n))
    assert found == pytest.approx(float(printed), abs=0.005 + RULE)


@pytest.mark.parametrize("sd_repeat", [0.02, 0.05, 0.1, 0.2, 0.5])
@pytest.mark.parametrize("mean", [1.5, 1.62, 1.7, 1.78, 1.9])
def test_the_lattice_agrees_with_quadrature(mean: float, sd_repeat: float) -> None:
    expected = gain_by_quadrature(mean, 0.09, 1.7, sd_repeat)
    assert gain(mean, 0.09, 1.7, sd_repeat) == pytest.approx(expected, abs=LATTICE)


def test_the_loss_of_today_is_the_printed_one() -> None:
    assert loss(1.66, 0.075, 1.7) == pytest.approx(0.70, abs=0.005)


def test_more_noise_gains_less() -> None:
    gains = [gain(1.66, 0.075, 1.7, sd) for sd in (0.01, 0.03, 0.06, 0.1, 0.2, 0.5, 2.0)]
    assert gains == sorted(gains, reverse=True)
    assert gains[0] > 0.5 and gains[-1] < 0.01


def test_no_repeat_gains_more_than_the_loss_of_today() -> None:
    for mean in (1.5, 1.6, 1.66, 1.7, 1.8):
        assert gain(mean, 0.075, 1.7, 0.001) <= loss(mean, 0.075, 1.7) + LATTICE


def test_a_gain_is_never_below_zero() -> None:
    found = [
        gain(mean, sd, 1.7, sd_repeat)
        for mean in (1.0, 1.5, 1.66, 1.8, 2.4)
        for sd in (0.02, 0.1, 0.4)
        for sd_repeat in (0.01, 0.1, 1.0)
    ]
    assert min(found) >= 0.0


@pytest.mark.parametrize("mean", [1.0, 1.2, 2.2, 3.0])
def test_far_from_the_threshold_nothing_is_gained(mean: float) -> None:
    assert gain(mean, 0.075, 1.7, 0.05) == pytest.approx(0.0, abs=1e-9)


def test_without_a_cost_nothing_is_gained() -> None:
    assert gain(1.66, 0.075, 1.7, 0.05, missed=0.0, false=0.0) == 0.0


def test_dearer_mistakes_make_a_repeat_worth_more() -> None:
    cheap = gain(1.66, 0.075, 1.7, 0.075, missed=1.0, false=1.0)
    assert gain(1.66, 0.075, 1.7, 0.075, missed=10.0, false=10.0) == pytest.approx(
        10 * cheap, rel=1e-9
    )
