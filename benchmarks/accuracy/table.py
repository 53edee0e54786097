"""The printed tables: each figure beside its target, with PASS or PAST."""

from collections.abc import Sequence

import numpy as np

from benchmarks.accuracy.case import Row
from benchmarks.accuracy.score import Figures, bounds, by_quantity, figures, folded, hurts
from benchmarks.accuracy.targets import (
    COVERAGE,
    LEAST_SHARE,
    MOST_GROSS,
    TARGETS,
    Target,
    is_length,
)

HEAD = (
    f"{'quantity':9} {'unit':4} {'seen':>5} {'given':>6} {'n':>4} {'bias':>8} {'SD':>7} "
    f"{'MAE':>7} {'p95':>7} {'gross':>6} {'cover':>6} {'a beat':>7}  past"
)
MOST_LEVELS = 12
ENOUGH = 20  # numbers, below which a share of them that is covered says nothing


def print_quantities(title: str, rows: Sequence[Row]) -> None:
    """Print one line a quantity; what is past its target stands at the end."""
    groups = by_quantity(rows)
    print(f"\n{title}" + (f"\n{HEAD}" if groups else ""))
    for quantity, group in groups.items():
        print(quantity_line(figures(quantity, group)))


def quantity_line(one: Figures) -> str:
    """Return the line of one quantity."""
    unit = "mm" if is_length(one.quantity) else "%"
    beat = f"{one.beat_mae:7.2f}" if one.beat_mae is not None else f"{'':7}"
    past = past_targets(one)
    verdict = f"PAST {', '.join(past)}" if past else "PASS"
    return (
        f"{one.quantity:9} {unit:4} {one.readable:5d} {one.reported:5.0f}% {one.scored:4d} "
        f"{one.bias:+8.2f} {one.sd:7.2f} {one.mae:7.2f} {one.worst:7.2f} {one.gross:5.1f}% "
        f"{one.coverage:5.0f}% {beat}  {verdict}"
    )


def past_targets(one: Figures) -> list[str]:
    """Return the targets that a quantity misses, each with its limit."""
    target = TARGETS.get(one.quantity, Target())
    checks = (
        ("bias", abs(one.bias), target.bias),
        ("MAE", one.mae, target.mae),
        ("SD", one.sd, target.sd),
        ("gross", one.gross, MOST_GROSS),
    )
    past = [f"{name} {limit:g}" for name, got, limit in checks if limit and got > limit]
    if one.reported < LEAST_SHARE:
        past.append(f"given {LEAST_SHARE:g}")
    low, high = COVERAGE
    if one.scored >= ENOUGH and not low <= one.coverage <= high:
        past.append(f"cover {low:g}-{high:g}")
    return past


def print_hurts(title: str, rows: Sequence[Row]) -> None:
    """Print the levels at which errors are largest and those at which most is missing."""
    found = hurts([row for row in rows if not row.is_incomplete])
    if not found:
        return
    print(f"\n{title}: what hurts (mean error as a share of a gross one)")
    found_hurting = [one for one in found if one.excess > 1]
    for one in found_hurting[:MOST_LEVELS]:
        print(
            f"  {one.factor + ' = ' + one.level:37} n {one.count:4d}"
            f"  given {one.reported:3.0f}%  error {one.mae:5.2f} (+{one.excess:.1f} SE)"
            f"  gross {one.gross:4.1f}%  cover {one.coverage:3.0f}%"
        )
    missing = sorted(found, key=lambda one: one.reported if np.isfinite(one.reported) else 101)
    shown = [one for one in missing[:6] if one.reported < LEAST_SHARE]
    for one in shown:
        print(
            f"  missing at {one.factor + ' = ' + one.level:36} n {one.count:4d}"
            f"  given {one.reported:4.0f}%"
        )


def print_bounds(rows: Sequence[Row]) -> None:
    """Print how folded and incomplete envelopes were handled."""
    wrapped = folded(rows)
    if wrapped is not None:
        print(
            f"\nFolded peaks of pulsed spectra: {wrapped.readable} readable; unwrapped rightly "
            f"{wrapped.unwrapped:.0f}%; marked as a lower bound {wrapped.flagged:.0f}%; "
            f"missing {wrapped.missing:.0f}%; wrong by more than 15 % {wrapped.wrong:.0f}%"
        )
    found = bounds(rows)
    if found is None:
        return
    print(
        f"\nIncomplete envelopes: {found.incomplete} peaks reported; marked as a lower bound "
        f"{found.flagged:.0f}%; of the unmarked, low by more than 15 % "
        f"{found.unflagged_low:.0f}%; "
        f"marked though complete {found.false_flags:.1f}%; of the marked, above the truth "
        f"{found.wrong:.1f}%"
    )
