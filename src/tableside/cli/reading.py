"""`tableside read`: progress while it works, a table when it is done."""

from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

from tableside.cli.table import show
from tableside.intake import OpenedStudy, open_study
from tableside.model import Reading
from tableside.reading import read, write


def read_study(
    study: Path,
    out: Path,
    *,
    worksheet: Path | None = None,
    spreads: Path | None = None,
    pdf: bool = True,
    template: str = "5200",
) -> None:
    """Read one study into ``out`` and print what was found."""
    with open_study(study, worksheet) as opened:
        reading = _read_with_progress(opened, spreads)
        written = write(reading, opened, out, pdf=pdf, template=template)
    show(reading, written)


def _read_with_progress(opened: OpenedStudy, spreads: Path | None) -> Reading:
    columns = TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn()
    console = Console(stderr=True)
    with Progress(*columns, console=console, transient=True) as progress:
        task = progress.add_task("reading", total=None)

        def step(file: str, position: int, total: int) -> None:
            progress.update(task, description=file, completed=position - 1, total=total)

        return read(opened, step, spreads)
