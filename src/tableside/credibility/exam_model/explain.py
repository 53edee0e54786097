"""Look for the explanations worth sampling: nothing wrong, one number wrong, one slip.

Every single fault is tried at once, from the peak without any. Where one is found, every
second one is tried beside it, and so on while the evidence grows.
"""

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.climb import Explanations, Peaks, climb
from tableside.credibility.exam_model.heart import AT
from tableside.credibility.exam_model.observations import WEIGHT
from tableside.credibility.exam_model.problem import Problem
from tableside.credibility.exam_model.settings import FitOptions, fault_kinds

Floats = NDArray[np.float64]
NARROW = 0.1  # a fault this narrow is a slip: the reading still counts, moved
WORTH = -7.0  # log share of the best explanation below which one is not sampled
FIRST_STEPS, NEXT_STEPS = 14, 7
RARE = (("AS", 2.6), ("PS", 2.6), ("RF", 1.5), ("FS", -2.0))  # rarer hearts to start from
SAME = 0.3  # peaks this close are one


def explanations(problem: Problem, options: FitOptions) -> Peaks:
    """Return the peaks worth sampling, the likeliest first."""
    base, peaks = _sound(problem)
    if not problem.with_faults:
        return peaks
    found, best = [peaks], float(peaks.log_evidence[0])
    for _ in range(options.deepest):
        tried = _beside(problem, base)
        start = np.repeat(found[-1].at[:1], len(tried.log_prior), axis=0)
        peaks = climb(problem, tried, start, NEXT_STEPS)
        order = np.argsort(-peaks.log_evidence, kind="stable")
        found.append(_rows(peaks, order))
        if peaks.log_evidence[order[0]] <= best + 1e-6:
            break
        best = float(peaks.log_evidence[order[0]])
        top = order[:1]
        base = Explanations(tried.log_prior[top], tried.used[top], tried.moved[top])
    return _worth(found, options.suspects)


def _sound(problem: Problem) -> tuple[Explanations, Peaks]:
    """Return the explanation that nothing is wrong, and its peaks, the highest first."""
    starts, m = _starts(problem), len(problem.observations)
    same = Explanations(
        np.zeros(len(starts)), np.ones((len(starts), m)), np.zeros((len(starts), m))
    )
    peaks = _distinct(climb(problem, same, starts, FIRST_STEPS))
    return Explanations(same.log_prior[:1], same.used[:1], same.moved[:1]), peaks


def _starts(problem: Problem) -> Floats:
    """Return where to start: the middle of the belief, and each rarer kind of heart."""
    found = [np.zeros(problem.size)]
    for name, far in RARE:
        if AT[name] in problem.columns:
            start = np.zeros(problem.size)
            start[problem.columns.index(AT[name])] = far
            found.append(start)
    return np.array(found)


def _distinct(peaks: Peaks) -> Peaks:
    """Return the peaks, highest first, without those that lie on a higher one."""
    kept: list[int] = []
    for row in np.argsort(-peaks.log_evidence, kind="stable"):
        apart = [np.linalg.norm(peaks.at[row] - peaks.at[one]) for one in kept]
        if all(distance > SAME for distance in apart):
            kept.append(int(row))
    return _rows(peaks, np.array(kept))


def _beside(problem: Problem, base: Explanations) -> Explanations:
    """Return every explanation with one more thing wrong than the base."""
    m = len(problem.observations)
    log_prior = float(base.log_prior[0])
    priors, used, moved = [], [], []
    for at in np.flatnonzero(base.used[0]):
        keep = base.used[0].copy()
        keep[at] = 0.0
        priors.append(log_prior)
        used.append(keep)
        moved.append(base.moved[0])
    for share, row in _slips(problem):
        priors.append(log_prior + float(np.log(share)))
        used.append(base.used[0])
        moved.append(base.moved[0] + row)
    return Explanations(
        np.array(priors), np.array(used).reshape(-1, m), np.array(moved).reshape(-1, m)
    )


def _slips(problem: Problem) -> list[tuple[float, Floats]]:
    found = []
    m = len(problem.observations)
    for at, one in enumerate(problem.observations):
        for kind in fault_kinds("weight") if one.quantity == WEIGHT else ():
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
    together = Peaks(
        np.concatenate([one.at for one in found]),
        np.concatenate([one.precision for one in found]),
        np.concatenate([one.log_evidence for one in found]),
    )
    evidence = together.log_evidence
    order = np.argsort(-evidence, kind="stable")
    kept = [row for row in order if evidence[row] > evidence[order[0]] + WORTH][:most]
    return _rows(together, np.array(kept))


def _rows(peaks: Peaks, rows: NDArray[np.int64]) -> Peaks:
    return Peaks(peaks.at[rows], peaks.precision[rows], peaks.log_evidence[rows])
