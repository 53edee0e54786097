"""What a person sees in the terminal: conclusions first, then doubts, then the numbers."""

from collections.abc import Iterator, Sequence
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.table import Table
from rich.text import Text

from tableside.cli.app import CAUTION
from tableside.model import Check, Finding, Number, Reading, Reference, Verdict
from tableside.units import text

BAND_CELLS = 15
MARKS = {Verdict.FAILS: "✗ not credible", Verdict.DOUBTFUL: "? doubtful"}


def show(reading: Reading, written: Sequence[Path], console: Console | None = None) -> None:
    """Print a reading and where its files are."""
    console = console or Console()
    console.print(_heading(reading))
    _list(console, "Findings", map(_finding, reading.findings))
    doubts = [check for check in reading.checks if check.verdict in MARKS]
    _list(console, "Doubts, worst first", map(_doubt, doubts))
    if reading.exam.measurements:
        console.print(_numbers(reading, doubts))
    _list(console, "Views missing from a complete study", _missing_views(reading))
    _list(console, "Not used", map(_rejected, reading.exam.study.rejected))
    _list(console, "Notes", map(escape, reading.notes))
    _list(console, "Written", (escape(str(path)) for path in written))
    console.print(f"[dim]{CAUTION}[/dim]")


def _heading(reading: Reading) -> Text:
    patient, visit = reading.exam.patient, reading.exam.visit
    known = (
        patient.name,
        patient.species,
        patient.breed,
        None if patient.weight_kg is None else f"{patient.weight_kg:g} kg",
        None if visit.date is None else visit.date.isoformat(),
        f"{len(reading.exam.study.images)} images",
    )
    return Text(", ".join(str(part) for part in known if part), style="bold")


def _list(console: Console, title: str, lines: Iterator[str]) -> None:
    items = list(lines)
    if items:
        console.print(f"\n[bold]{title}[/bold]")
    for item in items:
        grid = Table.grid(padding=(0, 1))
        grid.add_column(width=2, justify="right")
        grid.add_column(overflow="fold")
        grid.add_row("•", item)
        console.print(grid)


def _finding(finding: Finding) -> str:
    shares = ", ".join(
        f"{name} {share:.0%}" for name, share in finding.probability.items() if share >= 0.005
    )
    lines = [f"[bold]{escape(finding.title)}.[/bold] {escape(finding.statement)}"]
    if len(finding.probability) > 1 and shares:
        lines.append(f"[dim]{escape(shares)}[/dim]")
    if finding.missing:
        lines.append(f"[dim]Missing: {escape(', '.join(finding.missing))}[/dim]")
    return "\n".join(lines)


def _doubt(check: Check) -> str:
    lines = [f"[bold]{MARKS[check.verdict]}[/bold]  {escape(check.message)}"]
    if check.remedy:
        lines.append(f"Do: {escape(check.remedy)}")
    return "\n".join(lines)


def _missing_views(reading: Reading) -> Iterator[str]:
    absent = [item for item in reading.protocol if item.state != "present"]
    for item in absent:
        why = f" ({item.why})" if item.why else ""
        yield escape(f"{item.view}: {item.state}{why}")


def _rejected(item: object) -> str:
    return escape(f"{getattr(item, 'file', '')}: {getattr(item, 'reason', '')}")


def _numbers(reading: Reading, doubts: Sequence[Check]) -> Table:
    table = Table(title="\nNumbers (value ± standard deviation)", title_justify="left")
    table.title_style = "bold"
    table.add_column("quantity", no_wrap=True)
    table.add_column("value", justify="right", no_wrap=True)
    table.add_column("unit", no_wrap=True)
    table.add_column("usual", justify="right", no_wrap=True)
    table.add_column("low ├──┤ high", no_wrap=True)
    table.add_column("source", overflow="fold")
    doubted = {
        name: MARKS[check.verdict][0] for check in reversed(doubts) for name in check.about
    }
    for measurement in reading.exam.measurements:
        how = "" if measurement.method == "automatic" else " (by hand)"
        detail = f" {measurement.detail}" if measurement.detail else ""
        name = f"{measurement.quantity}{detail}{how}"
        table.add_row(*_row(name, measurement, doubted.get(measurement.quantity, "")))
    if reading.exam.indices:
        table.add_section()
    for index in reading.exam.indices:
        table.add_row(*_row(index.name, index, doubted.get(index.name, "")))
    return table


def _row(name: str, number: Number, mark: str) -> tuple[str, ...]:
    reference = number.references[0] if number.references else None
    digits = _digits(number.sd)
    at_least = "≥ " if number.bound == "lower" else ""
    value = f"{at_least}{number.value:.{digits}f} ± {number.sd:.{digits}f}"
    return (
        escape(f"{mark} {name}".strip()),
        value,
        text(number.unit),
        "" if reference is None else _limits(reference, digits),
        "" if reference is None else _band(reference, number.value),
        "" if reference is None else reference.source,
    )


def _digits(sd: float) -> int:
    """Return the decimals that show two digits of the standard deviation."""
    for digits in range(4):
        if sd * 10**digits >= 0.95:
            return digits
    return 4 if sd < 0.0095 else 3


def _limits(reference: Reference, digits: int) -> str:
    if reference.low is None:
        return f"up to {reference.high:.{digits}f}"
    if reference.high is None:
        return f"from {reference.low:.{digits}f}"
    return f"{reference.low:.{digits}f} to {reference.high:.{digits}f}"


def _band(reference: Reference, value: float) -> str:
    """Draw the usual interval in the middle third and the value where it falls."""
    if reference.low is None or reference.high is None:
        return ""
    third = BAND_CELLS // 3
    cells = [" "] * third + ["├", *"─" * (third - 2), "┤"] + [" "] * third
    share = (value - reference.low) / (reference.high - reference.low)
    cells[min(BAND_CELLS - 1, max(0, round(third + share * (third - 1))))] = "●"
    return "".join(cells)
