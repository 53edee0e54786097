"""The posterior density of one exam, and which columns its readings touch."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.heart import COLUMNS, heart
from tableside.credibility.exam_model.observations import PHASE_PAIRS, Observation
from tableside.credibility.exam_model.settings import Constants, scale_slips, swap_share
from tableside.credibility.exam_model.tables import Table

Floats = NDArray[np.float64]
SWAPPED, SCALE = "swapped or wrong phase", "scale"


@dataclass(frozen=True, slots=True)
class Block:
    """Readings that can only go wrong together: one explanation a row, the first is none.

    ``moved`` is what each explanation adds to the difference of reading and truth.
    """

    members: tuple[int, ...]
    shares: Floats  # (explanations,)
    moved: Floats  # (explanations, members)
    kinds: tuple[str, ...]


@dataclass(frozen=True)
class Problem:
    """Observations, their tables, and the columns that they depend on."""

    observations: tuple[Observation, ...]
    tables: tuple[Table, ...]
    p: Constants
    with_faults: bool

    @cached_property
    def columns(self) -> tuple[int, ...]:
        """The columns of the heart that a reading touches."""
        touched = dependencies()
        found = {c for one in self.observations for c in touched[one.kind.truth]}
        return tuple(sorted(found))

    @cached_property
    def sweeps(self) -> tuple[str, ...]:
        """The sweeps whose readings share a part of their error."""
        names = [one.sweep for one in self.observations if one.shared > 0]
        return tuple(dict.fromkeys(names))

    @property
    def size(self) -> int:
        """How many columns are looked for: those of the heart and one a sweep."""
        return len(self.columns) + len(self.sweeps)

    @cached_property
    def values(self) -> Floats:
        """The readings, (m,)."""
        return np.array([one.value for one in self.observations])

    @cached_property
    def blocks(self) -> tuple[Block, ...]:
        """Groups of readings of one scale; empty when faults are off."""
        if not self.with_faults:
            return ()
        names = dict.fromkeys(one.scale for one in self.observations if one.scale)
        return tuple(self._block(name) for name in names)

    def _block(self, scale: str) -> Block:
        at = tuple(i for i, one in enumerate(self.observations) if one.scale == scale)
        direction = np.array(
            [-1.0 if self.observations[i].quantity == "HR" else 1.0 for i in at]
        )
        slips = scale_slips()
        moved = [np.zeros(len(at)), *(-slip.shift * direction for slip in slips)]
        shares, kinds = [slip.share for slip in slips], [slip.kind for slip in slips]
        for swap in self._swaps(at):
            moved.append(swap)
            shares.append(swap_share())
            kinds.append(SWAPPED)
        return Block(at, np.array([1 - sum(shares), *shares]), np.array(moved), ("", *kinds))

    def _swaps(self, at: Sequence[int]) -> list[Floats]:
        where = {self.observations[i].name: k for k, i in enumerate(at)}
        found = []
        for one, other in PHASE_PAIRS:
            if one in where and other in where:
                apart = self.values[at[where[other]]] - self.values[at[where[one]]]
                moved = np.zeros(len(at))
                moved[where[one]], moved[where[other]] = apart, -apart
                found.append(moved)
        return found

    def full(self, u: Floats) -> Floats:
        """Return all columns of the heart, those not looked for at 0."""
        z = np.zeros((len(u), len(COLUMNS)))
        z[:, self.columns] = u[:, : len(self.columns)]
        return z

    def expected(self, u: Floats, state: Mapping[str, Floats] | None = None) -> Floats:
        """Return what each reading would be without error, (n, m)."""
        state = heart(self.full(u), self.p) if state is None else state
        found = np.empty((len(u), len(self.observations)))
        for at, one in enumerate(self.observations):
            truth = state[one.kind.truth]
            found[:, at] = truth if one.is_linear else np.log(truth) / one.kind.power
            if one.shared > 0:
                sweep = len(self.columns) + self.sweeps.index(one.sweep)
                found[:, at] += one.shared * u[:, sweep]
        return found

    def log_density(self, u: Floats, expected: Floats) -> Floats:
        """Return the log of prior times likelihood, all explanations added up."""
        log_prior = -0.5 * ((u**2).sum(1) + u.shape[1] * np.log(2 * np.pi))
        return np.asarray(log_prior + self.log_likelihood(self.values - expected))

    def log_likelihood(self, off: Floats) -> Floats:
        """Return the log likelihood at differences of readings and truth, (n, m)."""
        total = np.zeros(len(off))
        blocked = {i for block in self.blocks for i in block.members}
        for at, made in enumerate(self.tables):
            if at not in blocked:
                total += made.log_density(off[:, at])
        for block in self.blocks:
            total += np.logaddexp.reduce(self.explained(block, off), axis=0)
        return total

    def explained(self, block: Block, off: Floats) -> Floats:
        """Return the log likelihood of a block by explanation, (explanations, n)."""
        rows = np.log(block.shares)[:, None] + np.zeros(len(off))
        for k, at in enumerate(block.members):
            for row, moved in enumerate(block.moved[:, k]):
                rows[row] += self.tables[at].log_density(off[:, at] + moved)
        return rows


@cache
def dependencies() -> Mapping[str, frozenset[int]]:
    """Return which columns each quantity of the heart depends on, in any species."""
    from tableside.credibility.exam_model.visit import neutral_constants  # noqa: PLC0415

    base = np.full((1, len(COLUMNS)), 0.3)
    rows = np.vstack([base, base + 0.5 * np.eye(len(COLUMNS))])
    state = heart(rows, neutral_constants())
    return {
        name: frozenset(np.flatnonzero(values[1:] != values[0]).tolist())
        for name, values in state.items()
    }
