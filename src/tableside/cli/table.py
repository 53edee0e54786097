"""What a person sees in the terminal: conclusions first, then doubts, then the numbers."""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from tableside.cli.app import CAUTION
from tableside.model import Check, Finding, Index, Number, Reading, Reference, Verdict
from tableside.model.citations import citation
from tableside.units import text

BAND_CELLS = 12
DOUBT = 0.2  # from this probability on a number carries its mark in the table
MARKS = {Verdict.FAILS: "✗ not credible", Verdict.DOUBTFUL: "? doubtful"}


def show(reading: Reading, written: Sequence[Path], console: Console | None = None) -> None:
    """Print a reading and where its files are."""
    console = console or Console()
    console.print(_heading(reading))
    _list(console, "Findings", map(_finding, reading.findings))
    doubts = [check for check in reading.checks if check.verdict in MARKS]
    _list(console, "Doubts, worst first", map(_doubt, doubts))
    _list(console, "Next, best first", _next(reading))
    if reading.exam.measurements:
        console.print("\n[bold]Numbers[/bold] [dim](± is one standard deviation)[/dim]")
        console.print(_numbers(reading, doubts))
        console.print(_further(reading, doubts))
        _list(console, "Where the usual intervals come from", _sources(reading, doubts))
    _list(console, "A complete study also has", _incomplete(reading))
    _list(console, "Not used", map(_rejected, reading.exam.study.rejected))
    _list(console, "Notes", _notes(reading))
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
        console.print(Padding(f"• {item}", (0, 0, 0, 1)))


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


def _next(reading: Reading) -> Iterator[str]:
    """Say whether it is enough, and what is worth doing while the patient is there."""
    if reading.sufficiency is not None:
        verdict, reason = reading.sufficiency.verdict, reading.sufficiency.reason
        yield f"[bold]{escape(verdict.capitalize())}.[/bold] {escape(reason)}"
    told = tuple(check.remedy for check in reading.checks if check.remedy)
    for one in reading.advice:
        if one.action.startswith(told):  # it stands beside its doubt
            continue
        seconds = "" if one.seconds is None else f" [dim](about {one.seconds} s)[/dim]"
        yield f"{escape(one.action)}{seconds}"


def _incomplete(reading: Reading) -> Iterator[str]:
    groups: dict[str, list[str]] = {}
    for item in reading.protocol:
        if item.state != "present":
            why = f", {item.why}" if item.why else ""
            groups.setdefault(f"{item.state}{why}", []).append(item.view)
    for reason, views in groups.items():
        yield escape(f"{reason}: {'; '.join(views)}")


def _notes(reading: Reading) -> Iterator[str]:
    """Yield each remark once, with all the files that it was made of."""
    files = {image.file for image in reading.exam.study.images}
    groups: dict[str, list[str]] = {}
    for note in reading.notes:
        file, _, remark = note.partition(": ")
        if file in files:
            groups.setdefault(remark, []).append(file)
        else:
            groups.setdefault(note, [])
    for remark, named in groups.items():
        yield escape(f"{', '.join(named)}: {remark}" if named else remark)
    for one in reading.exam.measurements:
        yield from (escape(f"{one.quantity}: {note}") for note in one.notes)


def _rejected(item: object) -> str:
    return escape(f"{getattr(item, 'file', '')}: {getattr(item, 'reason', '')}")


def _numbers(reading: Reading, doubts: Sequence[Check]) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1))
    table.add_column("quantity", overflow="fold")
    table.add_column("value ± sd", justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    table.add_column("usual", justify="right", no_wrap=True)
    table.add_column("low ├─┤ high", no_wrap=True)
    table.add_column("from", justify="right", no_wrap=True)
    marks = _marks(reading, doubts)
    cited = _cited(reading, marks)
    for one in reading.exam.measurements:
        by_hand = "by hand" if one.method == "caliper" else None
        name = " ".join(filter(None, (one.quantity, one.detail, by_hand)))
        table.add_row(*_row(name, one, marks.get(one.quantity, ""), cited))
    table.add_section()
    for index in _telling(reading, marks):
        table.add_row(*_row(index.name, index, marks.get(index.name, ""), cited))
    return table


def _cited(reading: Reading, marks: Mapping[str, str]) -> list[str]:
    """Return the sources of the intervals in the table, in the order of their appearance."""
    numbers: list[Number] = [*reading.exam.measurements, *_telling(reading, marks)]
    return list(dict.fromkeys(one.references[0].source for one in numbers if one.references))


def _sources(reading: Reading, doubts: Sequence[Check]) -> Iterator[str]:
    for number, key in enumerate(_cited(reading, _marks(reading, doubts)), start=1):
        yield escape(f"{number}  {citation(key).text}")


def _telling(reading: Reading, marks: Mapping[str, str]) -> list[Index]:
    """Return the indices with an interval, a doubt or a part in a finding."""
    used = {one.split()[0] for finding in reading.findings for one in finding.inputs if one}
    return [
        index
        for index in reading.exam.indices
        if index.references or index.name in marks or index.name in used
    ]


def _further(reading: Reading, doubts: Sequence[Check]) -> str:
    """Name the indices that the table leaves out; all of them are in study.json."""
    shown = {index.name for index in _telling(reading, _marks(reading, doubts))}
    names = [index.name for index in reading.exam.indices if index.name not in shown]
    return f"[dim]Also in study.json: {escape(', '.join(names))}[/dim]" if names else ""


def _marks(reading: Reading, doubts: Sequence[Check]) -> dict[str, str]:
    """Return the mark of each doubted number, and of what was computed from one."""
    marks: dict[str, str] = {}
    for check in doubts:
        share = check.probability_unusable
        if check.about and share is not None and share >= DOUBT:
            marks.setdefault(check.about[0], MARKS[check.verdict][0])
    for index in reading.exam.indices:
        inherited = [marks[name] for name in index.inputs if name in marks]
        if inherited:
            marks.setdefault(index.name, inherited[0])
    return marks


def _row(name: str, number: Number, mark: str, cited: list[str]) -> tuple[str, ...]:
    digits = _digits(number.sd)
    at_least = "≥ " if number.bound == "lower" else ""
    value = f"{at_least}{number.value:.{digits}f} ± {number.sd:.{digits}f}"
    row = (escape(f"{mark} {name}".strip()), value, text(number.unit))
    if not number.references:
        return (*row, "", "", "")
    reference = number.references[0]
    limits, band = _limits(reference, digits), _band(reference, number.value)
    return (*row, limits, band, str(cited.index(reference.source) + 1))


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
    """Draw the usual interval over the middle cells and the value where it falls."""
    if reference.low is None or reference.high is None:
        return ""
    third = BAND_CELLS // 3
    cells = [" "] * third + ["├", *"─" * (third - 2), "┤"] + [" "] * third
    share = (value - reference.low) / (reference.high - reference.low)
    cells[min(BAND_CELLS - 1, max(0, round(third + share * (third - 1))))] = "●"
    return "".join(cells)
