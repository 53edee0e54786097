"""R peaks of a recording whose beats experts marked, drawn as a line and read back.

Source of the marks: MIT-BIH Arrhythmia Database, record 100 (file ``100.atr``).
"""

from pathlib import Path

import numpy as np
import pytest

from tableside.imaging.beats import find_r_peaks
from tableside.imaging.ecg import trace_ecg
from tableside.phantom.ecg import EcgStyle, draw_line

# pandas deprecates what wfdb calls
pytestmark = pytest.mark.filterwarnings("ignore:The inplace keyword")

SECONDS, STRIP_S, S_PER_COLUMN = 480.0, 4.0, 0.004
EDGE_S, MATCH_S = 0.1, 0.075
COLOURS = ((96, 232, 96), (20, 180, 160), (240, 220, 60))


@pytest.fixture(scope="module")
def scored(shared_data: Path) -> dict[str, float]:
    wfdb = pytest.importorskip("wfdb")
    record = wfdb.rdrecord(str(shared_data / "ecg" / "100"))
    marks = wfdb.rdann(str(shared_data / "ecg" / "100"), "atr")
    beats_s = np.array(
        [at for at, kind in zip(marks.sample, marks.symbol, strict=True) if kind in "NAV"]
    )
    beats_s = beats_s / record.fs
    volts, times_s = record.p_signal[:, 0], np.arange(record.sig_len) / record.fs
    rng = np.random.default_rng(11)
    hit, missed, extra, off = 0, 0, 0, []
    for k, start_s in enumerate(np.arange(0.0, SECONDS, STRIP_S)):
        strip_s = start_s + np.arange(round(STRIP_S / S_PER_COLUMN)) * S_PER_COLUMN
        found_s = start_s + read_back(
            np.interp(strip_s, times_s, volts), COLOURS[k % len(COLOURS)], rng
        )
        near = (beats_s > start_s) & (beats_s < start_s + STRIP_S)
        core = near & (beats_s > start_s + EDGE_S) & (beats_s < start_s + STRIP_S - EDGE_S)
        for at in beats_s[core]:
            gaps = found_s - at
            if gaps.size and np.abs(gaps).min() < MATCH_S:
                hit += 1
                off.append(gaps[np.abs(gaps).argmin()])
            else:
                missed += 1
        extra += sum(not (np.abs(beats_s - at) < MATCH_S).any() for at in found_s)
    rms_ms = 1000 * float(np.sqrt(np.mean(np.square(off))))
    return {
        "sensitivity": hit / (hit + missed),
        "precision": hit / (hit + extra),
        "rms_ms": rms_ms,
    }


def read_back(
    volts: np.ndarray, colour: tuple[int, int, int], rng: np.random.Generator
) -> np.ndarray:
    """Draw a strip over speckle and return the R waves found in the picture, in seconds."""
    rows = 90
    line = np.clip(rows * (0.75 - 0.45 * (volts - np.median(volts))), 2, rows - 3)
    grey = np.clip(rng.rayleigh(30, (rows, volts.size)), 0, 255).astype(np.uint8)
    picture = draw_line(np.repeat(grey[..., None], 3, axis=2), line, EcgStyle(colour=colour))
    return find_r_peaks(-trace_ecg(picture).row, S_PER_COLUMN).column * S_PER_COLUMN


def test_99_in_100_expert_beats_are_found(scored: dict[str, float]) -> None:
    assert scored["sensitivity"] >= 0.99  # target of the project


def test_99_in_100_found_beats_are_expert_beats(scored: dict[str, float]) -> None:
    assert scored["precision"] >= 0.99


def test_r_peaks_lie_within_6_ms_of_the_marks(scored: dict[str, float]) -> None:
    assert scored["rms_ms"] <= 6.0
