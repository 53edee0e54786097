"""Look for the explanations worth sampling: nothing wrong, one number wrong, one slip.

Every single fault is tried at once, from the peak without any. Where one is found, every
second one is tried beside it, and so on while the evidence grows.
"""

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.climb import Explanations, Peaks, climb
from tableside.credibility.exam_model.observations import WEIGHT
from tableside.credibility.exam_model.problem import Problem
from tableside.credibility.exam_model.settings import FitOptions, fault_kinds

Floats = NDArray[np.float64]
NARROW = 0.1  # a fault this narrow is a slip: the reading still counts, moved
WORTH = -7.0  # log share of the best explanation below which one is not sampled
FIRST_STEPS, NEXT_STEPS = 14, 7


def explanations(problem: Problem, options: FitOptions) -> Peaks:
    """Return the peaks worth sampling, the likeliest first."""
    m = len(problem.observations)
    none = Explanations(np.zeros(1), np.ones((1, m)), np.zeros((1, m)))
    peaks = climb(problem, none, np.zeros((1, problem.size)), FIRST_STEPS)
    if not problem.with_faults or m == 0:
        return peaks
    found = [peaks]
    base = none
    best = float(peaks.log_evidence[0])
    for _ in range(options.deepest):
        tried = _beside(problem, base)
        start = np.repeat(peaks.at, len(tried.log_prior), axis=0)
        next_ = climb(problem, tried, start, NEXT_STEPS)
        found.append(next_)
        top = int(next_.log_evidence.argmax())
        if next_.log_evidence[top] <= best + 1e-6:
            break
        best = float(next_.log_evidence[top])
        base = Explanations(
            tried.log_prior[top : top + 1],
            tried.used[top : top + 1],
            tried.moved[top : top + 1],
        )
        peaks = Peaks(
            next_.at[top : top + 1], next_.precision[top : top + 1], next_.log_evidence
        )
    return _worth(found, options.suspects)


def _beside(problem: Problem, base: Explanations) -> Explanations:
    """Return every explanation with one more thing wrong than the base."""
    m = len(problem.observations)
    priors, used, moved = [], [], []
    for at in range(m):
        if base.used[0, at]:
            keep = base.used[0].copy()
            keep[at] = 0.0
            priors.append(float(base.log_prior[0]))
            used.append(keep)
            moved.append(base.moved[0])
    for share, row in _slips(problem):
        priors.append(float(base.log_prior[0]) + float(np.log(share)))
        used.append(base.used[0])
        moved.append(base.moved[0] + row)
    return Explanations(
        np.array(priors), np.array(used).reshape(-1, m), np.array(moved).reshape(-1, m)
    )


def _slips(problem: Problem) -> list[tuple[float, Floats]]:
    found = []
    m = len(problem.observations)
    for at, one in enumerate(problem.observations):
        if one.quantity == WEIGHT:
            for kind in fault_kinds("weight"):
                if kind.sd < NARROW:
                    row = np.zeros(m)
                    row[at] = -kind.off
                    found.append((kind.share, row))
    for block in problem.blocks:
        for share, moved in zip(block.shares[1:], block.moved[1:], strict=True):
            row = np.zeros(m)
            row[list(block.members)] = moved
            found.append((float(share), row))
    return found


def _worth(found: list[Peaks], most: int) -> Peaks:
    at = np.concatenate([one.at for one in found])
    precision = np.concatenate([one.precision for one in found])
    evidence = np.concatenate([np.atleast_1d(one.log_evidence)[: len(one.at)] for one in found])
    order = np.argsort(-evidence, kind="stable")
    kept = [int(row) for row in order if evidence[row] > evidence[order[0]] + WORTH][:most]
    return Peaks(at[kept], precision[kept], evidence[kept])
