r"""What a repeat is worth: the expected fall of the loss of every decision.

.. math:: EVSI = \min_a E[L(a)] - E_y \min_a E[L(a) \mid y]

Every outer draw takes one heart, reads it with error, and weighs all hearts by the likelihood
of that reading; points come from a fixed lattice: the same examination, the same number. Both
terms are taken over the same outer draws, so that the gain cannot fall below 0.

Sources: expected value of sample information (Raiffa and Schlaifer 1961; memory).
"""

from collections.abc import Mapping, Sequence

import numpy as np

from tableside.credibility.next_best.belief import Floats
from tableside.credibility.next_best.decisions import Table, tolerance
from tableside.credibility.next_best.readings import NextReading

# The fractional parts of multiples of powers of these fill the cube evenly (Kronecker's lattice
# with the root of x^(d+1) = x + 1).
ROOTS = {1: 1.618033988749895, 2: 1.324717957244746, 3: 1.2207440846057596}


def gains(
    tables: Sequence[Table], readings: Sequence[NextReading], outer: int
) -> Mapping[str, float]:
    """Return the expected fall of the loss of each decision, by its id.

    Parameters
    ----------
    tables : sequence of Table
    readings : sequence of NextReading
        What the repeat reads; at most three numbers.
    outer : int
        Outer draws.
    """
    if not readings:
        return {one.decision.id: 0.0 for one in tables}
    read = _outer(readings, outer)
    weights = _weights(readings, read)
    return {one.decision.id: _gain(one, weights, readings, read) for one in tables}


def _outer(readings: Sequence[NextReading], count: int) -> Floats:
    """Return readings as they might come, (count, readings)."""
    size = len(readings[0].expected)
    evenly = (np.arange(count) + 0.5) / count
    order = np.argsort(readings[0].expected, kind="stable")
    hearts = order[(evenly * size).astype(int)]
    root = ROOTS[len(readings)]
    columns = []
    for at, one in enumerate(readings, start=1):
        share = np.modf(0.5 + np.arange(1, count + 1) * root**-at)[0]
        columns.append(one.expected[hearts] + one.strayed(share))
    return np.stack(columns, axis=1)


def _weights(readings: Sequence[NextReading], read: Floats) -> Floats:
    """Return the belief after each outer reading, (outer, hearts)."""
    log_weight = sum(one.log_density(read[:, at]) for at, one in enumerate(readings))
    log_weight = np.asarray(log_weight)
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    return np.asarray(weight / weight.sum(axis=1, keepdims=True))


def _gain(one: Table, weights: Floats, readings: Sequence[NextReading], read: Floats) -> float:
    after = weights @ one.losses.T
    before = float(after.mean(axis=0).min())
    best = after.min(axis=1)
    for at, reading in enumerate(readings):
        if reading.name == one.read:
            best = np.minimum(best, _relied_on(one, weights, read[:, at]))
    return max(before - float(best.mean()), 0.0)  # rounding alone can pass below 0


def _relied_on(one: Table, weights: Floats, read: Floats) -> Floats:
    """Return the loss of relying on the new reading instead of the old one."""
    assert one.truth is not None
    off = np.abs(read[:, None] - one.truth[None, :]) > tolerance(one.decision)
    return np.asarray(one.decision.missed * (weights * off).sum(axis=1))
