"""Weighted draws from the posterior: adaptive mixture importance sampling.

Each round draws from a mixture of Student-t densities, at first one a peak; the weights of
all draws so far set the next round's. A draw is weighed against the mixture of all rounds
(deterministic mixture), so that no round is wasted and no weight can explode.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import lgamma, log, pi

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.climb import Peaks
from tableside.credibility.exam_model.points import normal_quantile, uniform_points
from tableside.credibility.exam_model.settings import FitOptions

Floats = NDArray[np.float64]
HALF_FREEDOM = 4  # Student-t with 8 degrees of freedom
WIDENED = 1.15  # of the standard deviations at a peak
ADAPTED = 1.1  # of the standard deviations of the draws: their tails are seldom seen
LEAST_SHARE = 0.02
KEPT = 0.15  # of the old shape, when a component adapts


@dataclass(frozen=True, slots=True)
class Mixture:
    """Student-t components: shares, centres, Cholesky factors of their spreads."""

    share: Floats  # (c,)
    centre: Floats  # (c, k)
    factor: Floats  # (c, k, k)


@dataclass(frozen=True, slots=True)
class Draws:
    """Points, their weights (which add to 1) and the log evidence."""

    u: Floats
    weight: Floats
    log_evidence: float


def sample(log_density: Callable[[Floats], Floats], peaks: Peaks, options: FitOptions) -> Draws:
    """Return weighted draws of a density that has these peaks."""
    mixture = _at_peaks(peaks)
    used: list[Mixture] = []
    points: list[Floats] = []
    heights: list[Floats] = []
    for round_ in range(options.most_rounds):
        used.append(mixture)
        points.append(_drawn(mixture, options.draws, round_))
        heights.append(log_density(points[-1]))
        u, height = np.concatenate(points), np.concatenate(heights)
        each = [_log_components(one, u) for one in used]
        proposed = np.logaddexp.reduce(np.concatenate(each), axis=0) - log(len(used))
        ratio = height - proposed
        if round_ + 1 >= options.rounds and _worth(_normalised(ratio)) >= options.worth:
            break
        mixture = _adapted(mixture, u, _tempered(ratio, 6 * u.shape[1]), each[-1])
    top = ratio.max()
    return Draws(u, _normalised(ratio), float(top + log(np.exp(ratio - top).mean())))


def _normalised(log_weight: Floats) -> Floats:
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum())


def _worth(weight: Floats) -> float:
    return float(1 / (weight**2).sum())


def _tempered(log_weight: Floats, least: float) -> Floats:
    """Return weights flat enough to tell a shape: worth at least so many draws."""
    for power in (1.0, 0.7, 0.5, 0.3, 0.2):
        weight = _normalised(power * log_weight)
        if _worth(weight) >= least:
            break
    return weight


def _at_peaks(peaks: Peaks) -> Mixture:
    share = np.maximum(np.exp(peaks.log_evidence - peaks.log_evidence.max()), 0.05)
    spread = WIDENED**2 * np.linalg.inv(peaks.precision)
    return Mixture(share / share.sum(), peaks.at, np.linalg.cholesky(spread))


def _drawn(mixture: Mixture, count: int, round_: int) -> Floats:
    k = mixture.centre.shape[1]
    points = uniform_points(count, k + HALF_FREEDOM + 1, round_)
    which = np.minimum(
        np.searchsorted(np.cumsum(mixture.share), points[:, 0]), len(mixture.share) - 1
    )
    chi2 = -2 * np.log(points[:, 1 : 1 + HALF_FREEDOM]).sum(1)
    z = normal_quantile(points[:, 1 + HALF_FREEDOM :])
    z *= np.sqrt(2 * HALF_FREEDOM / chi2)[:, None]
    u = np.empty_like(z)
    for component in range(len(mixture.share)):
        rows = which == component
        u[rows] = mixture.centre[component] + z[rows] @ mixture.factor[component].T
    return u


def _log_components(mixture: Mixture, u: Floats) -> Floats:
    """Return the log density of each component times its share, (c, n)."""
    k, freedom = u.shape[1], 2 * HALF_FREEDOM
    found = np.empty((len(mixture.share), len(u)))
    constant = lgamma((freedom + k) / 2) - lgamma(freedom / 2) - 0.5 * k * log(freedom * pi)
    for row, share in enumerate(mixture.share):
        factor = mixture.factor[row]
        z = (u - mixture.centre[row]) @ np.linalg.inv(factor).T
        size = np.log(np.diag(factor)).sum()
        radius = np.einsum("nk,nk->n", z, z)
        found[row] = (
            log(share) + constant - size - 0.5 * (freedom + k) * np.log1p(radius / freedom)
        )
    return found


def _adapted(mixture: Mixture, u: Floats, weight: Floats, each: Floats) -> Mixture:
    belongs = np.exp(each - np.logaddexp.reduce(each, axis=0)) * weight
    share = belongs.sum(1)
    centre, factor = mixture.centre.copy(), mixture.factor.copy()
    k = u.shape[1]
    for row, mine in enumerate(belongs):
        if share[row] ** 2 < 3 * k * (mine**2).sum():
            continue  # too few draws to tell a shape
        mean = mine @ u / share[row]
        away = u - mean
        spread = (away * (mine / share[row])[:, None]).T @ away
        old = factor[row] @ factor[row].T
        centre[row] = mean
        wide = ADAPTED**2 * ((1 - KEPT) * spread + KEPT * old)
        factor[row] = np.linalg.cholesky(wide)
    share = np.maximum(share, LEAST_SHARE)
    return Mixture(share / share.sum(), centre, factor)
