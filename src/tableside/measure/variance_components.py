r"""Variance components by restricted maximum likelihood (REML).

.. math:: y = \mu + \sum_k Z_k u_k + e,  u_k \sim N(0, \sigma_k^2), e \sim N(0, \sigma_e^2)

Fisher scoring on the variances; one that would turn negative stays at 0. In a balanced design
this gives what the analysis of variance gives, where that is positive.

Sources: Patterson and Thompson 1971 (memory).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tableside.errors import NotMeasurable

Floats = NDArray[np.float64]
MOST_VALUES = 3000
STEPS = 60
CLOSE = 1e-9
RESIDUAL_FLOOR = 1e-10  # of the variance of the values


@dataclass(frozen=True, slots=True, kw_only=True)
class Components:
    """Variances by name, the last one the residual, with the covariance of the estimates."""

    names: tuple[str, ...]
    variances: Floats  # (k,)
    covariance: Floats  # (k, k)
    mean: float

    def sum_of(self, *names: str) -> tuple[float, float]:
        """Return the sum of some variances and the standard error of that sum."""
        wanted = np.array([name in names for name in self.names], dtype=np.float64)
        error = float(wanted @ self.covariance @ wanted)
        return float(wanted @ self.variances), max(error, 0.0) ** 0.5


def variance_components(
    values: Sequence[float], groups: Mapping[str, Sequence[object]], residual: str
) -> Components:
    """Estimate the variance of every grouping and of what is left.

    Parameters
    ----------
    values : sequence of float
        One value a row.
    groups : mapping
        By name, a label a row; rows of one label share that effect.
    residual : str
        The name of what is left.

    Raises
    ------
    NotMeasurable
        With more values than fit in memory, or when the search does not end.
    """
    y = np.asarray(values, dtype=np.float64)
    if len(y) > MOST_VALUES:
        raise NotMeasurable(
            f"{len(y)} values of one quantity; at most {MOST_VALUES} are taken at once. "
            "Give fewer dogs or average the beats."
        )
    scale = max(float(y.var(ddof=1)), 1e-300)
    designs = [_design(labels) for labels in groups.values()]
    model = _Model((y - y.mean()) / scale**0.5, designs)
    variances, information = _search(model)
    return Components(
        names=(*groups, residual),
        variances=variances * scale,
        covariance=np.asarray(np.linalg.pinv(information), dtype=np.float64) * scale**2,
        mean=float(y.mean()),
    )


def _design(labels: Sequence[object]) -> Floats:
    _, column = np.unique([str(one) for one in labels], return_inverse=True)
    design = np.zeros((len(column), int(column.max()) + 1))
    design[np.arange(len(column)), column] = 1.0
    return design


@dataclass(frozen=True)
class _Model:
    y: Floats
    designs: list[Floats]

    def likelihood(self, variances: Floats) -> tuple[float, Floats, Floats]:
        """Return the restricted log likelihood, its slope and the expected information."""
        n = len(self.y)
        covariance = variances[-1] * np.eye(n)
        for variance, design in zip(variances[:-1], self.designs, strict=True):
            covariance += variance * design @ design.T
        root = np.linalg.cholesky(covariance)
        inverse = np.linalg.solve(root.T, np.linalg.solve(root, np.eye(n)))
        ones = inverse.sum(axis=1)
        weight = float(ones.sum())
        p = inverse - np.outer(ones, ones) / weight
        py = p @ self.y
        log_likelihood = -np.log(np.diag(root)).sum() - 0.5 * (np.log(weight) + self.y @ py)
        seen = [*(design.T @ p for design in self.designs), p]
        square = [float(((design.T @ py) ** 2).sum()) for design in self.designs]
        trace = [
            float((z * design.T).sum()) for z, design in zip(seen, self.designs, strict=False)
        ]
        slope = 0.5 * (np.array([*square, float(py @ py)]) - np.array([*trace, np.trace(p)]))
        return float(log_likelihood), slope, 0.5 * self._information(seen)

    def _information(self, seen: list[Floats]) -> Floats:
        size = len(seen)
        found = np.empty((size, size))
        for one in range(size):
            for other in range(one, size):
                right = self.designs[other] if other < len(self.designs) else None
                between = seen[one] if right is None else seen[one] @ right
                found[one, other] = found[other, one] = float((between**2).sum())
        return found


def _search(model: _Model) -> tuple[Floats, Floats]:
    """Climb to the peak of the restricted likelihood; variances stay at 0 or above."""
    size = len(model.designs) + 1
    least = np.array([0.0] * (size - 1) + [RESIDUAL_FLOOR])
    at = np.full(size, 1.0 / size)
    height, slope, information = model.likelihood(at)
    for _ in range(STEPS):
        free = (at > least) | (slope > 0)
        step = np.zeros(size)
        step[free] = np.linalg.lstsq(information[np.ix_(free, free)], slope[free], rcond=None)[
            0
        ]
        after = _uphill(model, at, step, height, least)
        if after is None:
            return at, information
        moved = np.abs(after - at).max()
        at = after
        height, slope, information = model.likelihood(at)
        if moved < CLOSE:
            return at, information
    raise NotMeasurable("the variance components cannot be told apart; add dogs or repeats")


def _uphill(
    model: _Model, at: Floats, step: Floats, height: float, least: Floats
) -> Floats | None:
    """Return the next point, the step halved until it climbs; None at the peak."""
    for halvings in range(30):
        after = np.maximum(at + step * 0.5**halvings, least)
        if np.abs(after - at).max() < CLOSE:
            return None
        if model.likelihood(after)[0] > height - CLOSE * abs(height):
            return np.asarray(after)
    return None
