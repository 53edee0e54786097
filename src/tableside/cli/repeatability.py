"""`tableside repeatability`: how well a practice repeats its own numbers."""

from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from tableside.measure.own_spreads import own_spreads
from tableside.measure.repeatability import (
    BEAT,
    Repeatability,
    Share,
    coefficient_percent,
    ratio_limits,
    repeatability,
)
from tableside.measure.repeated_table import read_repeated
from tableside.model import quantity
from tableside.units import text

FEW_DOGS = 10


def estimate(table: Path, out: Path | None, console: Console | None = None) -> None:
    """Estimate the components of a CSV table, print them, and write them to ``out``."""
    console = console or Console()
    found = [repeatability(one) for one in read_repeated(table)]
    for one in found:
        console.print(_components(one))
        for line in _lines(one):
            console.print(line)
    if out is not None:
        _put(out, own_spreads(found, table.name))
        console.print(f"\nWritten: {escape(str(out))}")


def _components(one: Repeatability) -> Table:
    table = Table(
        title=(
            f"\n{one.quantity}: {one.dogs} dogs, {_count(one.operators, 'operator')}, "
            f"{one.values} values, mean {one.mean:.3g} {text(quantity(one.quantity).unit)}"
        ),
        title_justify="left",
        title_style="bold",
    )
    table.add_column("between")
    for name in ("CV %", "90 % interval", "95 % interval"):
        table.add_column(name, justify="right", no_wrap=True)
    for part in one.parts:
        table.add_row(_name(one, part), *_cells(part))
    table.add_section()
    for label, share in (
        ("a repeat, same operator", one.within),
        ("a repeat, another operator", one.between),
    ):
        if share is not None:
            table.add_row(label, *_cells(share))
    return table


def _cells(part: Share) -> tuple[str, str, str]:
    return (
        f"{part.cv_percent:.1f}",
        f"{part.interval90[0]:.1f} to {part.interval90[1]:.1f}",
        f"{part.interval95[0]:.1f} to {part.interval95[1]:.1f}",
    )


def _name(one: Repeatability, part: Share) -> str:
    held: Sequence[str] = one.holds.get(part.name, ())
    return f"{part.name} (with {' and '.join(held)})" if held else part.name


def _lines(one: Repeatability) -> list[str]:
    low, high = ratio_limits(one.within)
    what = "single beats" if one.part(BEAT) is not None else "values"
    lines = [
        f"Repeatability coefficient {coefficient_percent(one.within):.0f} %: in 19 of 20 pairs "
        f"of {what} of an unchanged dog by one operator, the second is {low:.2f} to {high:.2f} "
        "times the first."
    ]
    if one.between is not None:
        lines.append(
            f"By another operator: {coefficient_percent(one.between):.0f} % "
            "(2.77 times the coefficient of variation)."
        )
    if one.dogs < FEW_DOGS:
        lines.append(
            f"{one.dogs} dogs are few: the intervals are wide. At least {FEW_DOGS} dogs three "
            "times each."
        )
    return lines


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _put(path: Path, content: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(f".{path.name}.part")
    unfinished.write_text(content, encoding="utf-8")
    unfinished.replace(path)
