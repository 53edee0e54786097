"""`tableside read`: progress while it works, a table when it is done."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

from tableside.cli.table import show
from tableside.errors import InputError
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
        with writing_into(out):
            written = write(reading, opened, out, pdf=pdf, template=template)
    show(reading, written)


@contextmanager
def writing_into(out: Path) -> Iterator[None]:
    """Turn the system's refusal to write into one sentence."""
    try:
        yield
    except OSError as error:
        raise InputError(
            f"{out} cannot be written ({error.strerror}). Give --out a folder with room that "
            "you may write to."
        ) from error


def _read_with_progress(opened: OpenedStudy, spreads: Path | None) -> Reading:
    columns = TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn()
    console = Console(stderr=True)
    is_quiet = not console.is_terminal
    with Progress(*columns, console=console, transient=True, disable=is_quiet) as progress:
        task = progress.add_task("reading", total=None)

        def step(file: str, position: int, total: int) -> None:
            progress.update(task, description=file, completed=position - 1, total=total)

        return read(opened, step, spreads)
