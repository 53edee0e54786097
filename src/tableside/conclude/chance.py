r"""From a number and its doubt to the probability of a class.

.. math:: P(true \ge c) = 1 - \Phi\left(\frac{c - x}{u}\right)

``u`` holds what another sweep and another reader would add.
"""

from collections.abc import Iterable, Mapping
from itertools import pairwise
from math import erfc, sqrt

NOT_DECIDED = (0.2, 0.8)


def share_above(value: float, sd: float, cut: float) -> float:
    """Return the probability that the true number is at least ``cut``."""
    if sd <= 0:
        return float(value >= cut)
    return 0.5 * erfc((cut - value) / (sd * sqrt(2)))


def is_decided(probability: float) -> bool:
    """Return whether a probability lies outside the grey zone of 0.2 to 0.8."""
    low, high = NOT_DECIDED
    return not low <= probability <= high


def of_bands(
    edges: Iterable[float], labels: Iterable[str], value: float, sd: float
) -> dict[str, float]:
    """Return the probability of each class along one number; they add to 1."""
    above = [1.0, *(share_above(value, sd, edge) for edge in edges), 0.0]
    shares = (one - other for one, other in pairwise(above))
    return dict(zip(labels, shares, strict=True))


def likeliest(probability: Mapping[str, float]) -> tuple[str, float]:
    """Return the class with the largest probability, the first of equals."""
    label = max(probability, key=lambda each: probability[each])
    return label, probability[label]


def rounded(probability: Mapping[str, float]) -> dict[str, float]:
    """Round to three digits so that the classes still add to 1."""
    digits = {label: round(share, 3) for label, share in probability.items()}
    label, _ = likeliest(digits)
    rest = sum(share for each, share in digits.items() if each != label)
    digits[label] = round(1 - rest, 3)
    return digits
