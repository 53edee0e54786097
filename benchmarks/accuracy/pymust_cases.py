"""Tracings of an independent simulator, shown by many machines.

The M-mode lines are those of ``make_pymust``; here they only get a sweep, a gain, noise and a
log curve. The spectra come from moving scatterers, whose echo in the sample volume is the
table that the simulator gave; what follows is a wall filter and a Fourier transform.
"""

from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

import numpy as np

from benchmarks.accuracy.case import Case, Floats, Pixels, Tracing
from benchmarks.accuracy.layout import LEFT, TOP, Strip, lay_out
from benchmarks.accuracy.mmode_cases import look_of
from tableside.phantom.rhythm import HeartBeat

DATA = Path(__file__).resolve().parents[1] / "data"
LEVELS: Mapping[str, Sequence[str]] = {
    "chest": ("0", "1", "2", "3", "4", "5"),
    "gain": ("-8 dB", "0 dB", "0 dB", "+8 dB"),
    "noise": ("35 dB", "25 dB", "18 dB"),
    "range": ("45 dB", "60 dB"),
    "rows": ("200", "320", "500"),
    "columns": ("400", "700", "1000"),
    "jpeg": ("none", "85"),
    "ecg": ("below", "strip", "absent"),
    "colour": ("green", "yellow", "cyan"),
    "words": ("no",),
}
WHITE_DB = 15.0
PHASES = {"IVSd": ("septum right", "septum left"), "LVIDd": ("septum left", "wall endocardium"),
          "LVPWd": ("wall endocardium", "wall epicardium")}  # fmt: skip


def is_present() -> bool:
    """Whether the lines were made."""
    return all((DATA / f"pymust_mmode_{one}.npz").is_file() for one in LEVELS["chest"])


@cache
def _lines(number: int) -> Mapping[str, Floats]:
    with np.load(DATA / f"pymust_mmode_{number}.npz") as stored:
        return {name: stored[name] for name in stored.files}


def make(case: Case) -> Tracing:
    """Show one stored M-mode as the case asks."""
    made, level = _lines(int(case.factors["chest"])), case.factors
    rows, columns = int(level["rows"]), int(level["columns"])
    lines = made["level"].shape[1]
    s_per_column = float(made["s_per_line"]) * lines / columns
    height_mm = float(made["top_mm"]) + float(made["mm_per_row"]) * made["level"].shape[0]
    mm_per_row = height_mm / rows
    beats = _beats(made["r_s"], columns * s_per_column)
    strip = Strip(
        pixels=_shown(made, (rows, columns), case),
        s_per_column=s_per_column,
        per_row=mm_per_row / 10,
        unit="cm",
        origin_row=0.0,
        beats=beats,
        seed=case.seed,
    )
    image, pixels = lay_out(strip, look_of(case, mmode="left ventricle"))
    at = np.arange(columns) * s_per_column
    line_s = np.arange(lines) * float(made["s_per_line"])
    edges_mm = {
        name.removeprefix("edge "): np.interp(at, line_s, values)
        for name, values in made.items()
        if name.startswith("edge ")
    }
    shown = ("right ventricular wall", "septum right", "septum left", "wall endocardium",
             "wall epicardium")  # fmt: skip
    truth = _truth(edges_mm, made["r_s"], s_per_column)
    return Tracing(
        case=case,
        image=image,
        pixels=pixels,
        left=LEFT,
        truth=truth,
        readable=frozenset(truth),
        edges={name: TOP + edges_mm[name] / mm_per_row for name in shown},
        r_columns=None if level["ecg"] == "absent" else LEFT + made["r_s"] / s_per_column,
        ecg_span=(LEFT, LEFT + columns - 1),
    )


def _shown(made: Mapping[str, Floats], shape: tuple[int, int], case: Case) -> Pixels:
    """Put the lines through a sweep, noise, a gain and a log curve."""
    level, rng = case.factors, np.random.default_rng(case.seed)
    stored = made["level"].astype(np.float64) / 2 - 80
    rows, columns = shape
    top = float(made["top_mm"]) / float(made["mm_per_row"])
    whole = np.vstack([np.full((round(top), stored.shape[1]), -80.0), stored])
    size = 10 ** (whole / 20)
    at = np.linspace(0, whole.shape[1] - 1, columns)
    low = np.clip(at.astype(int), 0, whole.shape[1] - 2)
    size = size[:, low] * (1 - at + low) + size[:, low + 1] * (at - low)
    noise_db = -float(level["noise"].removesuffix(" dB"))
    noise = 10 ** (noise_db / 20) * np.sqrt(0.5) * rng.standard_normal((2, *size.shape))
    size = np.hypot(size + noise[0], noise[1])
    level_db = 20 * np.log10(size) + float(level["gain"].removesuffix(" dB"))
    range_db = float(level["range"].removesuffix(" dB"))
    grey = 255 * np.clip((level_db - WHITE_DB) / range_db + 1, 0, 1)
    edges = np.linspace(0, len(grey), rows + 1)
    total = np.vstack([np.zeros(columns), np.cumsum(grey, axis=0)])
    cut = np.array([np.interp(edges, np.arange(len(total)), column) for column in total.T]).T
    mean = np.diff(cut, axis=0) / np.diff(edges)[:, None]
    return np.asarray(np.clip(np.round(mean), 0, 255), dtype=np.uint8)


def _beats(r_s: Floats, duration_s: float) -> tuple[HeartBeat, ...]:
    """Return beats for the ECG, with one to spare before and after."""
    rr_s = float(np.diff(r_s).mean()) if len(r_s) > 1 else duration_s
    times = [r_s[0] - rr_s, *r_s, r_s[-1] + rr_s]
    return tuple(HeartBeat(r_s=float(at), rr_s=rr_s, rr_before_s=rr_s) for at in times)


def _truth(
    edges_mm: Mapping[str, Floats], r_s: Floats, s_per_column: float
) -> dict[str, float]:
    """Return sizes in cm: at the onset of the QRS, and where the cavity is smallest."""
    rr_s = float(np.diff(r_s).mean())
    columns = len(edges_mm["septum left"])
    sums: dict[str, list[float]] = {}
    for r in r_s:
        d = round((r - 0.020) / s_per_column)
        last = round((r + 0.6 * rr_s) / s_per_column)
        if d < 0 or last >= columns:
            continue
        cavity = edges_mm["wall endocardium"] - edges_mm["septum left"]
        s = d + int(np.argmin(cavity[d:last]))
        for name, (one, other) in PHASES.items():
            size = (edges_mm[other] - edges_mm[one]) / 10
            sums.setdefault(name, []).append(float(size[d]))
            sums.setdefault(name[:-1] + "s", []).append(float(size[s]))
    return {name: float(np.mean(values)) for name, values in sums.items()}
