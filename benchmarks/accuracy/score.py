"""From rows to figures: a table a quantity, the factors that hurt, and the lower bounds."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from benchmarks.accuracy.case import Floats, Row
from benchmarks.accuracy.targets import gross_limit, scaled

LEAST_AT_LEVEL = 8  # fewer rows at a level say nothing about it
WORST_SHARE = 0.95
BOUND_SLACK = 1.03  # a lower bound may exceed the truth by the accuracy of a peak


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What was measured of one quantity; errors in millimetres or percent."""

    quantity: str
    readable: int
    reported: float
    scored: int
    bias: float
    sd: float
    mae: float
    worst: float
    gross: float
    coverage: float
    beat_mae: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hurt:
    """How the rows at one level of a factor did.

    ``excess`` is how far its mean error lies above that of all rows, in standard errors.
    """

    factor: str
    level: str
    count: int
    reported: float
    mae: float
    excess: float
    gross: float
    coverage: float


def by_quantity(rows: Iterable[Row]) -> Mapping[str, list[Row]]:
    """Group rows whose envelope is complete by quantity."""
    groups: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        if not row.is_incomplete:
            groups[row.quantity].append(row)
    return groups


def figures(quantity: str, rows: Sequence[Row]) -> Figures:
    """Return the figures of one quantity.

    Notes
    -----
    The share reported counts readable tracings alone; errors are those of every number that
    was reported, readable or not, without the ones marked as a lower bound.
    """
    readable = [row for row in rows if row.readable]
    given = [row for row in rows if _is_scored(row)]
    errors = np.array([scaled(quantity, row.error, row.truth) for row in given])
    size = np.abs(errors)
    beats = [
        abs(scaled(quantity, error, row.truth)) for row in given for error in row.beat_errors
    ]
    return Figures(
        quantity=quantity,
        readable=len(readable),
        reported=_percent([row.value is not None for row in readable]),
        scored=len(given),
        bias=_mean(errors),
        sd=float(errors.std(ddof=1)) if len(errors) > 1 else float("nan"),
        mae=_mean(size),
        worst=float(np.quantile(size, WORST_SHARE)) if len(size) else float("nan"),
        gross=_percent(size > gross_limit(quantity)),
        coverage=_percent([row.is_covered for row in given]),
        beat_mae=float(np.mean(beats)) if beats else None,
    )


def hurts(rows: Sequence[Row]) -> list[Hurt]:
    """Return each level of each factor over all given rows, the surest harm first.

    Errors of different quantities are put on one scale: shares of the gross limit.
    """
    groups: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in rows:
        for factor, level in row.case.factors.items():
            groups[factor, level].append(row)
    usual = _mean(np.array([severity(row) for row in rows if _is_scored(row)]))
    found = [
        _hurt(factor, level, group, usual)
        for (factor, level), group in groups.items()
        if len(group) >= LEAST_AT_LEVEL
    ]
    return sorted(found, key=lambda one: -one.excess)


def _hurt(factor: str, level: str, rows: Sequence[Row], usual: float) -> Hurt:
    given = [row for row in rows if _is_scored(row)]
    size = np.array([severity(row) for row in given])
    error = size.std(ddof=1) / np.sqrt(len(size)) if len(size) > 2 else 0.0
    return Hurt(
        factor=factor,
        level=level,
        count=len(rows),
        reported=_percent([row.value is not None for row in rows if row.readable]),
        mae=_mean(size),
        excess=float((size.mean() - usual) / error) if error > 0 else 0.0,
        gross=_percent(size > 1),
        coverage=_percent([row.is_covered for row in given]),
    )


def _is_scored(row: Row) -> bool:
    return row.value is not None and row.bound is None


def severity(row: Row) -> float:
    """Return the size of an error as a share of the gross limit."""
    return abs(scaled(row.quantity, row.error, row.truth)) / gross_limit(row.quantity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """How incomplete envelopes were handled, counted in reported peaks."""

    incomplete: int  # reported of an incomplete envelope
    flagged: float  # of these, marked as a lower bound
    unflagged_low: float  # of the unmarked, reads low by more than a gross error
    false_flags: float  # of complete envelopes, marked
    wrong: float  # of the marked, above the truth


def bounds(rows: Iterable[Row]) -> Bounds | None:
    """Return how the lower bounds did, over the peaks; None without any."""
    peaks = [row for row in rows if _is_peak(row) and row.value is not None]
    incomplete = [row for row in peaks if row.is_incomplete]
    complete = [row for row in peaks if not row.is_incomplete and not _folds(row)]
    if not incomplete:
        return None
    marked = [row for row in peaks if row.bound == "lower"]
    unmarked = [row for row in incomplete if row.bound is None]
    low = [scaled(row.quantity, row.error, row.truth) < -gross_limit("E") for row in unmarked]
    above = [row.value is not None and row.value > BOUND_SLACK * row.truth for row in marked]
    return Bounds(
        incomplete=len(incomplete),
        flagged=_percent([row.bound == "lower" for row in incomplete]),
        unflagged_low=_percent(low),
        false_flags=_percent([row.bound == "lower" for row in complete]),
        wrong=_percent(above),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Folded:
    """How peaks beyond the scale of a pulsed spectrum were handled."""

    readable: int
    unwrapped: float  # reported within the gross limit
    flagged: float  # marked as a lower bound
    missing: float
    wrong: float  # reported, not marked, off by more than a gross error


def folded(rows: Iterable[Row]) -> Folded | None:
    """Return how folded peaks did; None without any."""
    peaks = [row for row in rows if _is_peak(row) and row.readable and _folds(row)]
    peaks = [row for row in peaks if not row.is_incomplete]
    if not peaks:
        return None
    plain = [row for row in peaks if _is_scored(row)]
    right = sum(severity(row) <= 1 for row in plain)
    share = 100.0 / len(peaks)
    return Folded(
        readable=len(peaks),
        unwrapped=share * right,
        flagged=share * sum(row.bound is not None for row in peaks),
        missing=share * sum(row.value is None for row in peaks),
        wrong=share * (len(plain) - right),
    )


def _folds(row: Row) -> bool:
    return row.case.factors.get("scale", "").startswith("folds")


def _is_peak(row: Row) -> bool:
    return row.quantity.endswith("_Vmax") or row.quantity == "E"


def _mean(values: Floats) -> float:
    return float(values.mean()) if len(values) else float("nan")


def _percent(values: Iterable[object]) -> float:
    hits = [bool(one) for one in values]
    return 100.0 * sum(hits) / len(hits) if hits else float("nan")
