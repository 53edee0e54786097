"""With advice and without: wrong stages and seconds at the table, on dogs that are known.

Both ways start from one complete recording. Without advice the usual round is made again, view
after view; with advice the first of the ranked repeats is done until it is enough. The round
is read off at the mean seconds that the advice took.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from tableside.credibility.exam_model import FitOptions, fit
from tableside.credibility.manoeuvres import manoeuvre
from tableside.credibility.next_best.belief import Belief
from tableside.credibility.next_best.known_dog import KnownDog, Table, known_dogs
from tableside.credibility.next_best.losses import Losses, Repeat, losses
from tableside.credibility.next_best.ranking import RankingOptions, ranking

STAGE = "mitral-stage"
FIRST_ROUND = ("left-ventricle", "left-atrium", "mitral-jet")
USUAL_ROUND = ("left-ventricle", "left-atrium", "mitral-jet")
MOST_SECONDS = 240
ENLARGED = (("LVIDDN", 1.7), ("LA:Ao", 1.6))


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulationOptions:
    """How the two ways are compared. Change these, not the code."""

    round: tuple[str, ...] = USUAL_ROUND
    most_seconds: int = MOST_SECONDS
    fit: FitOptions = field(default_factory=lambda: FitOptions(draws=700, rounds=3))
    missed: float = 4.0
    false: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way of examining: mean seconds, wrong stages as a share, mean loss."""

    name: str
    seconds: float
    wrong: float
    missed: float
    loss: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulation:
    """The start, the advice, and the usual round at the seconds of the advice."""

    dogs: int
    enlarged: float
    start: Way
    advised: Way
    usual: Way

    @property
    def fewer_wrong(self) -> float:
        """By which share wrong stages are fewer with advice, at equal seconds."""
        return 1 - self.advised.wrong / self.usual.wrong if self.usual.wrong else 0.0


@dataclass(frozen=True, slots=True)
class _Outcome:
    seconds: float
    is_wrong: bool
    is_missed: bool
    loss: float


def simulate(
    n: int,
    seed: int,
    misspecified: bool = True,
    options: SimulationOptions | None = None,
) -> Simulation:
    """Examine ``n`` known dogs with advice and without.

    Parameters
    ----------
    n : int
        Dogs.
    seed : int
        The same seed gives the same dogs and the same readings.
    misspecified : bool
        Whether dogs and errors differ from what the model believes.
    options : SimulationOptions, optional
    """
    options = options or SimulationOptions()
    rules = _with_costs(options)
    dogs = known_dogs(n, seed, misspecified=misspecified)
    both = [_with_advice(dog, rules, options) for dog in dogs]
    start = _way("start", [one for one, _ in both])
    advised = _way("with advice", [one for _, one in both])
    steps = [start]
    rounds = [_Round(dog, options) for dog in dogs]
    while steps[-1].seconds < advised.seconds:
        steps.append(_way("usual", [one.next() for one in rounds]))
    return Simulation(
        dogs=n,
        enlarged=sum(_is_enlarged(dog) for dog in dogs) / n,
        start=start,
        advised=advised,
        usual=_at_seconds(steps, advised.seconds),
    )


def _with_costs(options: SimulationOptions) -> Losses:
    """Return the losses with the stage as the only decision."""
    rules = losses()
    stage = next(one for one in rules.decisions if one.id == STAGE)
    stage = replace(stage, missed=options.missed, false=options.false)
    repeats = tuple(
        replace(one, serves=(STAGE,)) for one in rules.repeats if STAGE in one.serves
    )
    return replace(rules, decisions=(stage,), repeats=repeats)


def _started(dog: KnownDog) -> Table:
    table = Table(dog=dog)
    for name in FIRST_ROUND:
        table.do(_repeat(losses(), name), 0)
    return table


def _with_advice(
    dog: KnownDog, rules: Losses, options: SimulationOptions
) -> tuple[_Outcome, _Outcome]:
    """Return how it stands before any repeat, and when the advice says enough."""
    table = _started(dog)
    start: _Outcome | None = None
    while True:
        exam = table.exam()
        belief = fit(exam, options=options.fit)
        now = _outcome(table, belief, options)
        start = start or now
        found = ranking(exam, belief, options=RankingOptions(losses=rules))
        if not found.chosen:
            return start, now
        best = found.chosen[0]
        if table.seconds + best.seconds > options.most_seconds:
            return start, now
        table.do(best.repeat, best.seconds)


@dataclass(slots=True)
class _Round:
    """One dog examined by the usual round, a view at a time."""

    dog: KnownDog
    options: SimulationOptions
    done: int = 0
    table: Table | None = None

    def next(self) -> _Outcome:
        """Do the next view of the round and say how it stands."""
        if self.table is None:
            self.table = _started(self.dog)
        usual = self.options.round
        repeat = _repeat(losses(), usual[self.done % len(usual)])
        self.done += 1
        self.table.do(repeat, manoeuvre(repeat.manoeuvre).seconds)
        belief = fit(self.table.exam(), options=self.options.fit)
        return _outcome(self.table, belief, self.options)


def _repeat(rules: Losses, name: str) -> Repeat:
    return next(one for one in rules.repeats if one.id == name)


def _is_enlarged(dog: KnownDog) -> bool:
    return all(dog.truth[name] >= limit for name, limit in ENLARGED)


def _outcome(table: Table, belief: Belief, options: SimulationOptions) -> _Outcome:
    """Call the stage at the smaller expected loss and hold it against the truth."""
    truth = _is_enlarged(table.dog)
    met = np.logical_and.reduce([belief.draws[name] >= limit for name, limit in ENLARGED])
    probability = float(belief.weights @ met)
    called = options.missed * probability > options.false * (1 - probability)
    cost = (options.missed if truth else options.false) if called != truth else 0.0
    return _Outcome(table.seconds, called != truth, truth and not called, cost)


def _way(name: str, found: Sequence[_Outcome]) -> Way:
    n = len(found)
    return Way(
        name=name,
        seconds=sum(one.seconds for one in found) / n,
        wrong=sum(one.is_wrong for one in found) / n,
        missed=sum(one.is_missed for one in found) / n,
        loss=sum(one.loss for one in found) / n,
    )


def _at_seconds(steps: Sequence[Way], seconds: float) -> Way:
    """Return the usual round at some mean seconds, between its steps on a straight line."""
    after = next((at for at, one in enumerate(steps) if one.seconds >= seconds), len(steps) - 1)
    if after == 0:
        return steps[0]
    before, later = steps[after - 1], steps[after]
    share = min((seconds - before.seconds) / (later.seconds - before.seconds), 1.0)

    def between(one: float, other: float) -> float:
        return one + share * (other - one)

    return Way(
        name="usual",
        seconds=between(before.seconds, later.seconds),
        wrong=between(before.wrong, later.wrong),
        missed=between(before.missed, later.missed),
        loss=between(before.loss, later.loss),
    )
