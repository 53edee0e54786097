"""Climb to the peak of the posterior under several explanations at once.

Gauss-Newton: the readings' densities are known as tables with slope and curvature, the heart
is differentiated by small steps; all explanations and all steps are one batch.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.problem import Problem

Floats = NDArray[np.float64]
STEP = 1e-4
TRIES = np.array([1.0, 0.5, 0.2, 0.05, 0.0])
LONGEST = 4.0
SETTLED = 1e-3
FLATTEST = 0.02  # least curvature of a reading, as a share of 1 / sd^2


@dataclass(frozen=True, slots=True)
class Explanations:
    """What is taken as wrong, one row each: prior, readings left out, readings moved."""

    log_prior: Floats  # (h,)
    used: Floats  # (h, m) 1 or 0
    moved: Floats  # (h, m)


@dataclass(frozen=True, slots=True)
class Peaks:
    """The peaks under each explanation: where, how curved, and their log evidence."""

    at: Floats  # (h, k)
    precision: Floats  # (h, k, k)
    log_evidence: Floats  # (h,)


def climb(problem: Problem, what: Explanations, start: Floats, steps: int) -> Peaks:
    """Return the peak of the posterior under each explanation, by at most ``steps`` steps."""
    u = start.copy()
    height = _height(problem, what, u)
    for _ in range(steps):
        gradient, precision = _slopes(problem, what, u)
        step = np.linalg.solve(precision, gradient[:, :, None])[:, :, 0]
        length = np.linalg.norm(step, axis=1, keepdims=True)
        step *= np.minimum(1.0, LONGEST / np.maximum(length, 1e-12))
        tried = u[None] + TRIES[:, None, None] * step[None]
        heights = np.array([_height(problem, what, one) for one in tried])
        best = heights.argmax(0)
        rows = np.arange(len(u))
        u, gained = tried[best, rows], heights[best, rows] - height
        height = heights[best, rows]
        if gained.max(initial=0.0) < SETTLED:
            break
    _, precision = _slopes(problem, what, u)
    return Peaks(u, precision, _evidence(problem, what, u, height, precision))


def _height(problem: Problem, what: Explanations, u: Floats) -> Floats:
    off = problem.values + what.moved - problem.expected(u)
    total = np.asarray(-0.5 * (u**2).sum(1))
    for at, table in enumerate(problem.tables):
        total += what.used[:, at] * table.log_sound(off[:, at])
    return total


def _slopes(problem: Problem, what: Explanations, u: Floats) -> tuple[Floats, Floats]:
    h, k = u.shape
    points = u[:, None, :] + STEP * np.vstack([np.zeros(k), np.eye(k)])
    expected = problem.expected(points.reshape(-1, k)).reshape(h, k + 1, -1)
    jacobian = (expected[:, 1:] - expected[:, :1]) / STEP  # (h, k, m)
    off = problem.values + what.moved - expected[:, 0]
    slope, curvature = np.zeros_like(off), np.zeros_like(off)
    for at, (table, one) in enumerate(zip(problem.tables, problem.observations, strict=True)):
        slope[:, at] = np.interp(off[:, at], table.nodes, table.slope)
        bent = -np.interp(off[:, at], table.nodes, table.curvature)
        curvature[:, at] = np.maximum(bent, FLATTEST / one.sd**2)
    gradient = -u - np.einsum("hkm,hm->hk", jacobian, slope * what.used)
    weighted = jacobian * (curvature * what.used)[:, None, :]
    precision = np.eye(k) + weighted @ jacobian.transpose(0, 2, 1)
    return gradient, precision


def _evidence(
    problem: Problem, what: Explanations, u: Floats, height: Floats, precision: Floats
) -> Floats:
    """Return the log evidence, the wrong readings weighed by what is known of faults."""
    off = problem.values + what.moved - problem.expected(u)
    total = np.asarray(what.log_prior + height - 0.5 * np.linalg.slogdet(precision)[1])
    for at, table in enumerate(problem.tables):
        wrong = np.interp(off[:, at], table.nodes, table.faulty)
        total += (1 - what.used[:, at]) * wrong
    return total
