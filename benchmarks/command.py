"""The command line as a person runs it: each figure is a process of its own."""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from benchmarks.line import Line

ROOT = Path(__file__).resolve().parents[1]
REAL = ROOT.parent / "shared" / "data" / "human-echo"
NINE = [f"I_{number:06d}.dcm" for number in range(31, 40)]

DECODE = """
import sys
from pathlib import Path
from tableside.intake import open_study
last_only = sys.argv[2] == "last"
with open_study(Path(sys.argv[1])) as opened:
    count = 0
    for image in opened.study.images:
        wanted = [image.frames - 1] if last_only else None
        for _ in opened.frames(image.file, wanted):
            count += 1
print(count)
"""


@dataclass(frozen=True, slots=True)
class Cost:
    """Wall time and highest memory of one process, and what it printed."""

    wall_s: float
    peak_mb: float
    printed: str


def run(quick: bool) -> Iterator[Line]:
    """Yield the figures of `tableside --help`, `read` and the letter."""
    script = str(Path(sys.executable).parent / "tableside")
    repeats = 1 if quick else 3
    subprocess.run([script, "--help"], check=True, capture_output=True)
    help_s = _best([script, "--help"], 3).wall_s
    yield Line("tableside --help, warm", f"{help_s:.2f} s", "limit 0.30 s", help_s < 0.3)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        study, what = _study(folder, script)
        out = str(folder / "out")
        read = _best([script, "read", str(study), "--out", out, "--no-pdf"], repeats)
        whole = _best([script, "read", str(study), "--out", out], repeats)
        yield from _lines(what, str(study), (read, whole), repeats)


def _study(folder: Path, script: str) -> tuple[Path, str]:
    study = folder / "study"
    if REAL.is_dir():
        study.mkdir()
        for file in NINE:
            shutil.copy(REAL / file, study / file)
        return study, "nine real images"
    subprocess.run([script, "phantom", "--out", str(study)], check=True, capture_output=True)
    return study, "a phantom study"


def _lines(what: str, study: str, costs: tuple[Cost, Cost], repeats: int) -> Iterator[Line]:
    read, whole = costs
    every = _best([sys.executable, "-c", DECODE, study, "every"], repeats)
    last = _best([sys.executable, "-c", DECODE, study, "last"], repeats)
    ratio = read.wall_s / every.wall_s
    yield Line(
        f"read of {what}, no PDF",
        f"{read.wall_s:.2f} s",
        f"decode all {every.printed} frames {every.wall_s:.2f} s",
        ratio <= 2.0,
    )
    yield Line(
        "  against decoding the frames that it looks at",
        f"{read.wall_s / last.wall_s:.1f} x",
        f"decode {last.printed} frames {last.wall_s:.2f} s",
        True,
    )
    yield Line(
        "  ratio to bare decoding of all frames", f"{ratio:.2f}", "limit 2.00", ratio <= 2
    )
    yield Line("  peak memory", f"{read.peak_mb:.0f} MB", "limit 600 MB", read.peak_mb < 600)
    pdf_s = whole.wall_s - read.wall_s
    yield Line(
        "the letter as PDF, added to the read", f"{pdf_s:.2f} s", "limit 1.00 s", pdf_s < 1
    )


def _best(command: list[str], repeats: int) -> Cost:
    return min((_cost(command) for _ in range(repeats)), key=lambda cost: cost.wall_s)


def _cost(command: list[str]) -> Cost:
    started = time.perf_counter()
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as process:
        printed = process.stdout.read() if process.stdout else ""
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    wall_s = time.perf_counter() - started
    if process.returncode != 0:
        raise SystemExit(f"{' '.join(command[:3])} ended with {process.returncode}")
    return Cost(wall_s, usage.ru_maxrss / 1024, printed.strip())
