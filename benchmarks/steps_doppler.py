"""How long the ECG and Doppler steps take, on one core, and how true they are.

``python -m benchmarks.steps_doppler`` prints both; ``run`` gives the times alone. Spectra with
known truth are drawn by the phantom (seeds of their own); the ECG is a recording whose beats
experts marked (MIT-BIH record 100), drawn as a line and read back.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from collections.abc import Callable, Iterator
from pathlib import Path
from time import process_time

import numpy as np

from benchmarks.line import Line
from tableside.errors import NotMeasurable
from tableside.imaging.beats import find_r_peaks
from tableside.imaging.ecg import trace_ecg
from tableside.imaging.envelope import trace_envelope
from tableside.imaging.spectrum import opposite, split_sides
from tableside.phantom.doppler import FlowSpec, spectrum
from tableside.phantom.ecg import EcgStyle, draw_line

RECORD = Path(__file__).resolve().parents[2] / "shared" / "data" / "ecg" / "100"
ENVELOPE_MS, ECG_MS = 60.0, 100.0
STRIP_S, MARGIN_S, MATCH_S = 4.0, 0.1, 0.075
Pair = tuple[float | None, float | None]  # marked by the experts, found by the program; s


def run(quick: bool) -> list[Line]:
    """Return the times as lines of the common table."""
    runs = 3 if quick else 9
    drawn = spectrum(FlowSpec(flow="aortic outflow", rows=260, columns=1000), seed=1)
    sides = split_sides(drawn.pixels, drawn.baseline_row)
    down, other = sides.down, opposite(sides.down, sides.up)
    padded = np.pad(down.grey, ((0, 260 - down.grey.shape[0]), (0, 0)), mode="edge")
    mirrored = np.pad(other, ((0, 260 - other.shape[0]), (0, 0)))
    envelope = _best_ms(lambda: trace_envelope(padded, mirrored), runs)
    line = _best_ms(lambda: trace_ecg(drawn.pixels), runs)
    return [
        _line("Doppler envelope, 260 x 1,000", envelope, ENVELOPE_MS),
        _line("ECG line in a picture, 260 x 1,000", line, ECG_MS),
    ]


def _line(what: str, took_ms: float, most_ms: float) -> Line:
    return Line(what, f"{took_ms:.0f} ms", f"{most_ms:.0f} ms", took_ms <= most_ms)


def _best_ms(step: Callable[[], object], runs: int) -> float:
    times = []
    for _ in range(runs):
        start = process_time()
        step()
        times.append(1000 * (process_time() - start))
    return min(times)


def expert_beats(seconds: float, s_per_column: float) -> Iterator[Pair]:
    """Yield, for every marked or found beat, the marked and the found time; one may lack.

    The recording is drawn in strips over speckle and read back from the picture.
    """
    import wfdb  # noqa: PLC0415

    record = wfdb.rdrecord(str(RECORD))
    marks = wfdb.rdann(str(RECORD), "atr")
    beats = np.array(
        [at for at, kind in zip(marks.sample, marks.symbol, strict=True) if kind in "NLRAV/"]
    )
    volts, times = record.p_signal[:, 0], np.arange(record.sig_len) / record.fs
    rng = np.random.default_rng(3)
    for start_s in np.arange(0, seconds, STRIP_S):
        strip_s = start_s + np.arange(round(STRIP_S / s_per_column)) * s_per_column
        found = start_s + read_strip(np.interp(strip_s, times, volts), s_per_column, rng)
        inside = (start_s + MARGIN_S, start_s + STRIP_S - MARGIN_S)
        marked = beats / record.fs
        marked = marked[(marked > inside[0]) & (marked < inside[1])]
        yield from _pairs(marked, found, inside)


def _pairs(
    marked: np.ndarray, found: np.ndarray, inside: tuple[float, float]
) -> Iterator[Pair]:
    for at in marked:
        near = found[np.abs(found - at) < MATCH_S]
        yield float(at), float(near[0]) if near.size else None
    for at in found:
        alone = not (np.abs(marked - at) < MATCH_S).any()
        if inside[0] + MATCH_S < at < inside[1] - MATCH_S and alone:
            yield None, float(at)


def read_strip(volts: np.ndarray, s_per_column: float, rng: np.random.Generator) -> np.ndarray:
    """Draw one strip as a green line over speckle, and return the R waves read back, in s."""
    rows = 90
    line = np.clip(rows * (0.75 - 0.45 * (volts - np.median(volts))), 2, rows - 3)
    grey = np.clip(rng.rayleigh(30, (rows, volts.size)), 0, 255).astype(np.uint8)
    picture = draw_line(np.repeat(grey[..., None], 3, axis=2), line, EcgStyle())
    try:
        peaks = find_r_peaks(-trace_ecg(picture).row, s_per_column)
    except NotMeasurable:
        return np.array([])
    return peaks.column * s_per_column


def main() -> None:
    """Print times and, where the recording is there, how its beats were found."""
    for line in run(quick=False):
        print(f"{line.what:40s} {line.measured:>8s}   limit {line.beside}")
    if not RECORD.with_suffix(".dat").exists():
        return
    pairs = list(expert_beats(1800.0, 0.004))
    both = [(a, b) for a, b in pairs if a is not None and b is not None]
    off_ms = 1000 * np.array([b - a for a, b in both])
    missed = sum(b is None for _, b in pairs)
    extra = sum(a is None for a, _ in pairs)
    print(
        f"MIT-BIH 100, drawn and read: {len(both)} beats, sensitivity "
        f"{len(both) / (len(both) + missed):.4f}, precision "
        f"{len(both) / (len(both) + extra):.4f}, timing {np.sqrt((off_ms**2).mean()):.1f} ms"
    )


if __name__ == "__main__":
    main()
