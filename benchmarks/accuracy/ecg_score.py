"""R waves of the drawn line against the true ones."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchmarks.accuracy.case import Answer, Factors, Floats, Tracing

MATCH_S = 0.060
WORSE_BY = 2.0  # points below the whole, at which a level is shown
EDGE_S = 0.080  # R waves this near to either end count neither for nor against
FACTORS = ("ecg", "colour", "sweep", "rhythm", "jpeg", "gain", "seconds", "height", "behind",
           "width")  # fmt: skip
TARGET_SHARE, TARGET_MS = 99.0, 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class EcgRow:
    """One strip: how many R waves are there, found and right, and by how much they are off.

    ``is_drawn`` is False for a tracing without an ECG, on which none must be found.
    """

    factors: Factors
    true: int
    found: int
    matched: int
    errors_ms: tuple[float, ...]
    is_drawn: bool = True


def ecg_row(tracing: Tracing, answer: Answer) -> EcgRow | None:
    """Return the row of a tracing; None where the program failed."""
    if answer.crash:
        return None
    region = tracing.image.regions[0]
    found: list[float] = []
    if answer.rhythm is not None and answer.rhythm.source == "ecg":
        found = [wave.column for wave in answer.rhythm.r_waves]
    if tracing.r_columns is None:
        return EcgRow(
            factors=tracing.case.factors, true=0, found=len(found), matched=0, errors_ms=(),
            is_drawn=False,
        )  # fmt: skip
    return compare(
        np.array(found), tracing.r_columns, region.s_per_column, tracing.ecg_span,
        tracing.case.factors,
    )  # fmt: skip


def compare(
    found: Floats,
    true: Floats,
    s_per_column: float,
    span: tuple[float, float],
    factors: Factors,
) -> EcgRow:
    """Match each true R wave with the nearest found one."""
    edge = EDGE_S / s_per_column
    first, last = span[0] + edge, span[1] - edge
    inner_true = true[(true >= first) & (true <= last)]
    inner_found = found[(found >= first) & (found <= last)]
    errors = [
        float(found[np.argmin(np.abs(found - one))] - one) * s_per_column * 1000
        for one in inner_true
        if len(found)
    ]
    matched = tuple(error for error in errors if abs(error) <= MATCH_S * 1000)
    right = sum(
        bool(np.any(np.abs(true - one) * s_per_column <= MATCH_S)) for one in inner_found
    )
    return EcgRow(
        factors={**factors, "right": str(right)},
        true=len(inner_true),
        found=len(inner_found),
        matched=len(matched),
        errors_ms=matched,
    )


def print_ecg(rows: Sequence[EcgRow]) -> None:
    """Print sensitivity, precision and timing over all strips, then where they are worse."""
    empty = [row for row in rows if not row.is_drawn]
    rows = [row for row in rows if row.is_drawn]
    if not rows:
        return
    print("\nR waves of the drawn ECG (targets: 99 %, 99 %, 6 ms)")
    print(_line("all", rows))
    usual = min(_shares(rows))
    for factor in FACTORS:
        groups: dict[str, list[EcgRow]] = defaultdict(list)
        for row in rows:
            if factor in row.factors:
                groups[row.factors[factor]].append(row)
        for level, group in groups.items():
            if min(_shares(group)) < usual - WORSE_BY:
                print(_line(f"{factor} = {level}", group))
    if empty:
        invented = sum(row.found > 0 for row in empty)
        print(f"  no ECG drawn: {len(empty)} tracings, R waves found on {invented} of them")


def _shares(rows: Sequence[EcgRow]) -> tuple[float, float]:
    """Return sensitivity and precision in percent."""
    true, found = sum(row.true for row in rows), sum(row.found for row in rows)
    matched = sum(row.matched for row in rows)
    right = sum(int(row.factors["right"]) for row in rows)
    return 100 * matched / max(true, 1), 100 * right / max(found, 1)


def _line(name: str, rows: Sequence[EcgRow]) -> str:
    sensitivity, precision = _shares(rows)
    errors = np.array([error for row in rows for error in row.errors_ms])
    true = sum(row.true for row in rows)
    head = f"  {name:28} strips {len(rows):4d}  R {true:5d}"
    if len(errors) == 0:
        return f"{head}  none was matched"
    rms = float(np.sqrt(np.mean(errors**2)))
    is_past = min(sensitivity, precision) < TARGET_SHARE or rms > TARGET_MS
    return (
        f"{head}  sensitivity {sensitivity:5.1f}%  precision {precision:5.1f}%"
        f"  bias {errors.mean():+5.1f} ms  RMS {rms:4.1f} ms  {'PAST' if is_past else 'PASS'}"
    )
