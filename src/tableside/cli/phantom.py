"""`tableside phantom`: a study whose truth is known."""

from pathlib import Path

from rich.console import Console

from tableside.cli.reading import writing_into
from tableside.phantom.study import StudySpec, make_study


def make(out: Path, *, seed: int, weight_kg: float) -> None:
    """Make a study in ``out`` and say where its truth lies."""
    with writing_into(out):
        make_study(out, StudySpec(weight_kg=weight_kg), seed)
    console = Console(soft_wrap=True)
    console.print(f"Images and worksheet: {out}")
    console.print(f"What is true of them: {out.with_name(f'{out.name}-truth.toml')}")
