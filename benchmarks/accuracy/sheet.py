"""Picture sheets of the worst tracings, the true edges and the traced ones drawn in."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from PIL import Image as Picture
from PIL import ImageDraw, ImageFont

from benchmarks.accuracy import families
from benchmarks.accuracy.case import Answer, Case, Row, Tracing, read, rows_of
from benchmarks.accuracy.score import severity
from benchmarks.accuracy.targets import is_length, scaled

WORST, A_SHEET, ACROSS = 20, 6, 2
CELL = (900, 520)
CAPTION = 86
TRUE, TRACED, ECG = (90, 240, 90), (255, 70, 220), (255, 210, 60)
MISSING = 0.9  # how bad it is, in gross errors, that a readable number is missing
UNREADABLE = 0.3  # what an error weighs where a careful reader would not have measured


def write_sheets(folder: Path, name: str, rows: Sequence[Row]) -> None:
    """Write sheets of the worst twenty tracings of a family into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    worst = _worst(rows)
    for start in range(0, len(worst), A_SHEET):
        part = worst[start : start + A_SHEET]
        down = -(-len(part) // ACROSS)
        sheet = Picture.new("RGB", (ACROSS * CELL[0], down * (CELL[1] + CAPTION)))
        for place, case in enumerate(part):
            left = (place % ACROSS) * CELL[0]
            top = (place // ACROSS) * (CELL[1] + CAPTION)
            sheet.paste(picture(case), (left, top))
        path = folder / f"{name}-{start // A_SHEET + 1}.png"
        sheet.save(path)
        print(f"wrote {path.name}")


def _worst(rows: Sequence[Row]) -> list[Case]:
    """Return the cases with the largest error or most missing."""
    cases: dict[int, Case] = {}
    worst: dict[int, float] = defaultdict(float)
    for row in rows:
        size = _badness(row)
        cases[row.case.seed] = row.case
        worst[row.case.seed] = max(worst[row.case.seed], size)
    order = sorted(cases, key=lambda seed: -worst[seed])
    return [cases[seed] for seed in order[:WORST] if worst[seed] > 0]


def _badness(row: Row) -> float:
    """Return a size in gross errors; an unreadable tracing comes after the readable ones."""
    if row.value is None:
        return MISSING if row.readable else 0.0
    if row.bound is not None or row.is_incomplete:
        return 0.0
    return severity(row) * (1.0 if row.readable else UNREADABLE)


def picture(case: Case) -> Picture.Image:
    """Make and read one case again and draw it with its caption."""
    tracing = families.MAKE[case.family](case)
    answer = read(tracing)
    drawn = _drawn(tracing, answer)
    cell = Picture.new("RGB", (CELL[0], CELL[1] + CAPTION))
    cell.paste(drawn.resize(CELL, Picture.Resampling.LANCZOS), (0, CAPTION))
    _caption(ImageDraw.Draw(cell), tracing, answer)
    return cell


def _drawn(tracing: Tracing, answer: Answer) -> Picture.Image:
    """Return the picture at twice its size with thin lines."""
    base = Picture.fromarray(tracing.pixels)
    base = base.resize((2 * base.width, 2 * base.height), Picture.Resampling.BICUBIC)
    pen = ImageDraw.Draw(base)
    for edge in tracing.edges.values():
        columns = (np.arange(len(edge)) + tracing.left).tolist()
        pen.line(
            [(2 * x + 1, 2 * y + 1) for x, y in zip(columns, edge.tolist(), strict=True)], TRUE
        )
    for trace in answer.found.traces:
        pen.line([(2 * x + 1, 2 * y + 1) for x, y in trace.points], TRACED)
    for one in answer.measurements.values():
        for beat in one.beats:
            for x, y in beat.points:
                colour = TRACED if beat.used else (150, 150, 150)
                pen.ellipse((2 * x - 3, 2 * y - 3, 2 * x + 4, 2 * y + 4), outline=colour)
    if answer.rhythm is not None and answer.rhythm.source != "file":
        for wave in answer.rhythm.r_waves:
            pen.line((2 * wave.column, 80, 2 * wave.column, 110), ECG)
    return base


def _caption(pen: ImageDraw.ImageDraw, tracing: Tracing, answer: Answer) -> None:
    font = ImageFont.load_default(12)
    said = [_said(row) for row in rows_of(tracing, answer)]
    half = (len(said) + 1) // 2
    lines = [
        f"{tracing.case.family} {tracing.case.number} seed {tracing.case.seed}   "
        + _levels(tracing.case.factors),
        "   ".join(said[:half]),
        "   ".join(said[half:]),
        "; ".join(note.partition(": ")[2] for note in answer.found.notes)[:150],
    ]
    if answer.crash:
        lines[-1] = answer.crash
    words = lines[0]
    pen.text((4, 2), words[:150], font=font, fill=(230, 230, 230))
    pen.text((4, 17), words[150:300], font=font, fill=(230, 230, 230))
    for number, line in enumerate(lines[1:]):
        pen.text((4, 33 + 16 * number), line, font=font, fill=(255, 220, 120))


def _levels(factors: Mapping[str, str]) -> str:
    return ", ".join(f"{name} {level}" for name, level in factors.items())


def _said(row: Row) -> str:
    seen = "" if row.readable else " (unreadable)"
    if row.value is None:
        return f"{row.quantity} missing{seen}"
    unit = "mm" if is_length(row.quantity) else "%"
    bound = " lower bound" if row.bound else ""
    error = scaled(row.quantity, row.error, row.truth)
    miss = "" if row.is_covered else "!"
    return f"{row.quantity} {error:+.1f}{miss} {unit}{bound}{seen}"
