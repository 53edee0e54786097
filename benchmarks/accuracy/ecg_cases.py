"""Expert-marked ECG drawn as strips: MIT-BIH record 100, in many colours and sweeps."""

from collections.abc import Mapping, Sequence
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.accuracy.case import Case, Floats, Tracing
from benchmarks.accuracy.layout import COLOURS
from tableside.model import Axis, Image, Mode, Region, RegionKind
from tableside.phantom.ecg import EcgStyle, draw_line
from tableside.phantom.speckle import through_jpeg

RECORD = Path(__file__).resolve().parents[3] / "shared" / "data" / "ecg" / "100"
BEATS = tuple("NLRBAaJSVrFejnE/fQ?")  # annotation codes that mark a beat
LEFT, TOP = 20, 30
FINE = 8  # voltages looked at in each column
LEVELS: Mapping[str, Sequence[str]] = {
    "seconds": ("3", "5", "8"),
    "columns": ("500", "700", "900"),
    "height": ("30", "50", "90"),
    "colour": tuple(COLOURS),
    "width": ("1", "1.5", "2.5"),
    "behind": ("black", "black", "grey speckle"),
    "jpeg": ("none", "90", "75"),
    "speed": ("1", "1.6"),  # drawn faster, a person's record has a dog's rate
}


def is_present() -> bool:
    """Whether the record lies beside the checkout."""
    return RECORD.with_suffix(".dat").is_file()


@cache
def _record() -> tuple[Floats, Floats, float]:
    """Return volts (samples, leads), the samples of the beats, and samples a second."""
    reader: Any = import_module("wfdb")
    record = reader.rdrecord(str(RECORD))
    marks = reader.rdann(str(RECORD), "atr")
    symbols = np.array(marks.symbol)
    beats = np.asarray(marks.sample, dtype=np.float64)[np.isin(symbols, BEATS)]
    return record.p_signal, beats, float(record.fs)


def _by_column(lead: Floats, sample: Floats) -> Floats:
    """Return one voltage a column, the most extreme, so that no R wave falls between two."""
    fine = np.linspace(-0.5, 0.5, FINE, endpoint=False) * (sample[1] - sample[0])
    volts = np.interp(sample[:, None] + fine, np.arange(len(lead)), lead)
    far = np.argmax(np.abs(volts - np.median(lead)), axis=1)
    return np.asarray(volts[np.arange(len(sample)), far])


def make(case: Case) -> Tracing:
    """Draw one window of the record."""
    level, rng = case.factors, np.random.default_rng(case.seed)
    volts, beats, per_second = _record()
    columns, seconds = int(level["columns"]), float(level["seconds"])
    speed = float(level["speed"])
    start = rng.uniform(0, len(volts) / per_second - seconds * speed - 1)
    time_s = start + np.arange(columns) / columns * seconds * speed
    lead = volts[:, 0]  # the lead on which the experts marked the R peaks
    trace = _by_column(lead, time_s * per_second)
    height = int(level["height"])
    span = np.ptp(trace) or 1.0
    rows = TOP + 4 + (height - 8) * (trace.max() - trace) / span
    style = EcgStyle(colour=COLOURS[level["colour"]], width_px=float(level["width"]))
    pixels = np.zeros((TOP + height + 20, columns + 2 * LEFT, 3), dtype=np.uint8)
    if level["behind"] != "black":
        grain = np.clip(rng.rayleigh(28, pixels.shape[:2]), 0, 255).astype(np.uint8)
        pixels = np.repeat(grain[..., None], 3, axis=2)
    part = slice(LEFT, LEFT + columns)
    pixels[:, part] = draw_line(np.ascontiguousarray(pixels[:, part]), rows, style)
    pixels = through_jpeg(pixels, None if level["jpeg"] == "none" else int(level["jpeg"]))
    at = (beats / per_second - start) / (seconds * speed) * columns
    region = Region(
        index=0,
        kind=RegionKind.ECG,
        box=(LEFT, TOP, LEFT + columns - 1, TOP + height - 1),
        x=Axis(unit="s", per_pixel=seconds / columns, origin_px=LEFT),
    )
    image = Image(
        file="strip.dcm", mode=Mode.TWO_D, rows=pixels.shape[0], columns=pixels.shape[1],
        regions=(region,),
    )  # fmt: skip
    return Tracing(
        case=case,
        image=image,
        pixels=pixels,
        left=LEFT,
        truth={},
        readable=frozenset(),
        r_columns=LEFT + at[(at >= 0) & (at < columns)],
        ecg_span=(LEFT, LEFT + columns - 1),
    )
