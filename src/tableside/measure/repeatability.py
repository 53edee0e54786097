r"""How well a practice repeats its own numbers: variance components, limits, intervals.

Everything is reckoned on logarithms, so that a standard deviation is a share of the number:

.. math:: CV = \sqrt{e^{s^2} - 1}, \qquad RC = 1.96 \sqrt{2}\, S_w = 2.77\, S_w

Two values of one dog differ by a factor of up to :math:`e^{2.77 S_w}` in 19 of 20 pairs though
the dog is the same. Intervals: the estimate of a variance is taken as chi-squared with the
degrees of freedom that its standard error implies (Satterthwaite).

Sources: Bland and Altman 1996 (measurement error); Satterthwaite 1946 (memory).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, expm1, log, sqrt

from tableside.measure.repeated_table import RepeatedTable, Row
from tableside.measure.variance_components import Components, variance_components

REPEATABILITY_FACTOR = 1.96 * sqrt(2.0)  # 2.77
DOG, OPERATOR, HABIT, DAY, READING, BEAT = (
    "dog",
    "operator",
    "dog by operator",
    "day",
    "reading",
    "beat",
)
FEWEST_FREEDOM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A coefficient of variation in percent, with its 90 and 95 % intervals."""

    name: str
    cv_percent: float
    interval90: tuple[float, float]
    interval95: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability:
    """What a table of repeats says of one quantity.

    ``within`` is a repeat by the same operator on another day, ``between`` one by another
    operator, both of one reading (and one beat, where beats were given). ``parts`` holds every
    component that the design can tell apart; ``holds`` names what a part includes because it
    cannot.
    """

    quantity: str
    dogs: int
    operators: int
    values: int
    mean: float
    parts: tuple[Share, ...]
    within: Share
    between: Share | None
    holds: Mapping[str, tuple[str, ...]]

    def part(self, name: str) -> Share | None:
        """Return a component by name, or None where the design cannot tell it apart."""
        return next((one for one in self.parts if one.name == name), None)


def repeatability(table: RepeatedTable) -> Repeatability:
    """Estimate the components of one quantity.

    Raises
    ------
    NotMeasurable
        When the components cannot be told apart.
    """
    groups, residual, holds = _design(table.rows)
    logs = [log(row.value) for row in table.rows]
    found = variance_components(logs, groups, residual)
    same = [name for name in found.names if name not in (DOG, OPERATOR, HABIT)]
    other = [name for name in found.names if name != DOG]
    operators = len({row.operator for row in table.rows})
    return Repeatability(
        quantity=table.quantity,
        dogs=len(table.dogs),
        operators=operators,
        values=len(table.rows),
        mean=exp(found.mean),
        parts=tuple(_share(found, name, (name,)) for name in found.names),
        within=_share(found, "same operator", same),
        between=_share(found, "another operator", other) if operators > 1 else None,
        holds=holds,
    )


def coefficient_percent(share: Share) -> float:
    """Return the repeatability coefficient, 2.77 times the coefficient of variation."""
    return REPEATABILITY_FACTOR * share.cv_percent


def ratio_limits(share: Share) -> tuple[float, float]:
    """Return the factors within which 19 of 20 repeats of an unchanged dog stay."""
    s = sqrt(log(1 + (share.cv_percent / 100) ** 2))
    return exp(-REPEATABILITY_FACTOR * s), exp(REPEATABILITY_FACTOR * s)


Groups = dict[str, list[tuple[str | None, ...]]]
PREFERRED = (DOG, DAY, READING, BEAT, HABIT)


def _design(rows: Sequence[Row]) -> tuple[Groups, str, dict[str, tuple[str, ...]]]:
    """Return the groupings that this design can tell apart, and the name of the residual.

    Levels that split the rows in the same way cannot be told apart: one name stands for them.
    """
    labels: Groups = {
        DOG: [(row.dog,) for row in rows],
        HABIT: [(row.dog, row.operator) for row in rows],
        DAY: [(row.dog, row.operator, row.day) for row in rows],
        READING: [(row.dog, row.operator, row.day, row.reading) for row in rows],
        BEAT: [(row.dog, row.operator, row.day, row.reading, row.beat) for row in rows],
    }
    operators = len({row.operator for row in rows})
    if operators == 1:
        del labels[HABIT]
    if all(row.beat is None for row in rows):
        del labels[BEAT]
    by_count: dict[int, list[str]] = {}
    for name, each in labels.items():
        by_count.setdefault(len(set(each)), []).append(name)
    named = [(min(names, key=PREFERRED.index), names) for names in by_count.values()]
    holds = {
        name: tuple(one for one in names if one != name) for name, names in named if names[1:]
    }
    groups = {name: labels[name] for name, _ in named[:-1]}
    if operators > 1 and operators != len(set(labels[DOG])):
        groups = {DOG: groups.pop(DOG), OPERATOR: [(row.operator,) for row in rows], **groups}
    return groups, named[-1][0], holds


def _share(found: Components, name: str, of: Sequence[str]) -> Share:
    variance, error = found.sum_of(*of)
    return Share(
        name=name,
        cv_percent=_percent(variance),
        interval90=_interval(variance, error, 0.90),
        interval95=_interval(variance, error, 0.95),
    )


def _percent(variance: float) -> float:
    return 100.0 * sqrt(expm1(min(max(variance, 0.0), 50.0)))


def _interval(variance: float, error: float, level: float) -> tuple[float, float]:
    """Return the limits of a coefficient of variation, in percent."""
    from scipy.special import chdtri, ndtri  # noqa: PLC0415  (slow to import)

    tail = 0.5 * (1 - level)
    freedom = 2 * (variance / error) ** 2 if error > 0 else 1e9
    if freedom < FEWEST_FREEDOM:  # the estimate is lost in its error: 0 to a normal limit
        return 0.0, _percent(variance + float(ndtri(1 - tail)) * error)
    low = freedom * variance / float(chdtri(freedom, tail))
    high = freedom * variance / float(chdtri(freedom, 1 - tail))
    return _percent(low), _percent(high)
