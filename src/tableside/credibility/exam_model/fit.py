"""Fit the exam model: readings in, belief about everything out. Same input, same belief."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.explain import explanations
from tableside.credibility.exam_model.heart import COLUMNS, heart
from tableside.credibility.exam_model.mixture import Draws, sample
from tableside.credibility.exam_model.observations import Observation, observe
from tableside.credibility.exam_model.points import normal_points, uniform_points
from tableside.credibility.exam_model.posterior import FaultPosterior, Posterior
from tableside.credibility.exam_model.problem import Problem
from tableside.credibility.exam_model.settings import CANINE_ONLY, FitOptions
from tableside.credibility.exam_model.tables import OFF_AXIS, table
from tableside.credibility.exam_model.visit import visit_constants
from tableside.model import Exam, Species

Floats = NDArray[np.float64]
DOG_ONLY = ("LVIDDN", "LVIDDN_0.33", "LVIDSN")
HIDDEN = ("ln weight", "ln LAP off", "ln PASP off", "ln FS off", "FS share", "shortening")
TINY = 1e-12
ANGLE_STREAM, REST_STREAM = 101, 102  # apart from those of the rounds
DEFAULT = FitOptions()


def fit(exam: Exam, *, options: FitOptions = DEFAULT) -> Posterior:
    """Fit one model of the whole examination to whatever was recorded.

    Parameters
    ----------
    exam : Exam
        Any subset of readings; none gives the belief before looking.
    options : FitOptions

    Returns
    -------
    Posterior
        Weighted draws of every quantity, the probability that each reading is unusable, the
        log evidence, and notes on what was left out or not applied.
    """
    p = visit_constants(exam, options)
    observations, notes = observe(exam, p)
    tables = tuple(table(one, p, options.faults) for one in observations)
    problem = Problem(observations, tables, p, options.faults)
    drawn = _drawn(problem, options)
    state = heart(_columns(problem, drawn), p)
    expected = problem.expected(drawn.u, state)
    off = problem.values - expected
    draws = {name: values for name, values in state.items() if name not in HIDDEN}
    found = _Blame(problem, drawn, off)
    draws |= found.angles()
    species = exam.patient.species
    if species is not Species.DOG:
        notes += (_not_applied(species),)
        draws = {name: values for name, values in draws.items() if name not in DOG_ONLY}
    return Posterior(
        draws=draws,
        weights=drawn.weight,
        faults=found.faults(state) if options.faults else {},
        observations=observations,
        log_evidence=drawn.log_evidence,
        notes=notes,
    )


def _drawn(problem: Problem, options: FitOptions) -> Draws:
    if not problem.observations:
        count = options.draws * options.rounds
        return Draws(np.zeros((count, 0)), np.full(count, 1 / count), 0.0)

    def log_density(u: Floats) -> Floats:
        return problem.log_density(u, problem.expected(u))

    return sample(log_density, explanations(problem, options), options)


def _columns(problem: Problem, drawn: Draws) -> Floats:
    """Return all columns: those that no reading touches keep their prior."""
    z = np.array(normal_points(len(drawn.weight), len(COLUMNS), REST_STREAM))
    z[:, problem.columns] = drawn.u[:, : len(problem.columns)]
    return z


def _not_applied(species: Species | None) -> str:
    who = "an animal of unknown species" if species is None else f"a {species}"
    return f"Relations that come from dogs are not applied to {who}: {CANINE_ONLY}."


@dataclass(frozen=True)
class _Blame:
    """Who is at fault, from the draws and their differences to the readings."""

    problem: Problem
    drawn: Draws
    off: Floats

    def angles(self) -> dict[str, Floats]:
        """Return the beam angle of every jet in degrees, one draw each."""
        jets = [at for at, one in enumerate(self.problem.observations) if one.kind.has_angle]
        shares = uniform_points(len(self.off), len(jets), ANGLE_STREAM)
        return {
            f"angle:{self.problem.observations[at].name}": self._angle(at, shares[:, nth])
            for nth, at in enumerate(jets)
        }

    def _angle(self, at: int, share: Floats) -> Floats:
        made = self.problem.tables[at]
        row = np.clip(np.searchsorted(made.nodes, self.off[:, at]), 0, len(made.nodes) - 1)
        below = (made.angle_cdf[row] < share[:, None]).sum(1)
        return np.asarray(made.angles_deg[np.minimum(below, len(made.angles_deg) - 1)])

    def faults(self, state: Mapping[str, Floats]) -> dict[str, FaultPosterior]:
        """Return the fault posterior of every reading."""
        sound, slipped = self._slips()
        return {
            one.name: self._fault(at, one, state, (sound, slipped[at]))
            for at, one in enumerate(self.problem.observations)
        }

    def _slips(self) -> tuple[list[tuple[Floats, Floats]], list[dict[str, Floats]]]:
        m, n = len(self.problem.observations), len(self.off)
        moved = [(np.ones(n), self.off[:, at]) for at in range(m)]
        slipped: list[dict[str, Floats]] = [{} for _ in range(m)]
        for block in self.problem.blocks:
            rows = self.problem.explained(block, self.off)
            share = np.exp(rows - np.logaddexp.reduce(rows, axis=0))
            for k, at in enumerate(block.members):
                moved[at] = (share[0], self.off[:, at])
                for row in range(1, len(share)):
                    if block.moved[row, k] != 0:
                        kind = block.kinds[row]
                        slipped[at][kind] = slipped[at].get(kind, 0.0) + share[row]
                    else:
                        moved[at] = (moved[at][0] + share[row], self.off[:, at])
        return moved, slipped

    def _fault(
        self,
        at: int,
        one: Observation,
        state: Mapping[str, Floats],
        slips: tuple[list[tuple[Floats, Floats]], dict[str, Floats]],
    ) -> FaultPosterior:
        made = self.problem.tables[at]
        unslipped, off = slips[0][at]
        each: dict[str, Floats] = dict(slips[1])
        for row, kind in enumerate(made.kinds):
            if row == 0 or (kind == OFF_AXIS and not one.kind.has_angle):
                continue
            share = unslipped * np.interp(off, made.nodes, made.rows[row])
            each[kind] = each.get(kind, 0.0) + share
        by_kind = {kind: float(self.drawn.weight @ share) for kind, share in each.items()}
        wrong = sum(each.values(), np.zeros(len(off)))
        unusable = min(max(sum(by_kind.values()), 0.0), 1.0)
        blame = self.drawn.weight * (wrong + TINY)
        truth = state[one.kind.truth]
        mean = float(blame @ truth / blame.sum())
        spread = sqrt(max(float(blame @ (truth - mean) ** 2 / blame.sum()), 0.0))
        return FaultPosterior(
            name=one.name,
            quantity=one.quantity,
            value=one.given,
            unit=one.unit,
            unusable=unusable,
            by_kind=by_kind or {"none": 0.0},
            should_be=mean,
            should_be_sd=spread,
            files=one.files,
            is_bound=one.is_bound,
        )
