"""A white electrocardiogram over speckle as bright, and the pixels that a line covers.

Beats: MIT-BIH Arrhythmia Database, record 100, marked by experts. Covered pixels: the line as
the imaging library Pillow draws it.
"""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from tableside.errors import NotMeasurable
from tableside.imaging.beats import find_r_peaks
from tableside.imaging.ecg import EcgLine, line_mask, trace_ecg
from tableside.imaging.thin_line import find_thin_line
from tableside.phantom.ecg import EcgStyle, draw_line

S_PER_COLUMN, STRIP_S, EDGE_S, MATCH_S = 0.004, 4.0, 0.1, 0.075
WHITE, ROWS = (235, 235, 235), 160


def speckle(columns: int, scale: float, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    grey = np.clip(rng.rayleigh(scale, (ROWS, columns)), 0, 255).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=2)


@pytest.mark.filterwarnings("ignore:The inplace keyword")  # pandas deprecates what wfdb calls
def test_expert_beats_are_found_on_a_white_line_over_bright_speckle(shared_data: Path) -> None:
    wfdb = pytest.importorskip("wfdb")
    record = wfdb.rdrecord(str(shared_data / "ecg" / "100"), sampto=360 * 200)
    marks = wfdb.rdann(str(shared_data / "ecg" / "100"), "atr", sampto=360 * 200)
    beats_s = np.array(
        [at for at, kind in zip(marks.sample, marks.symbol, strict=True) if kind in "NAV"]
    )
    beats_s = beats_s / record.fs
    volts, times_s = record.p_signal[:, 0], np.arange(record.sig_len) / record.fs
    hit = found = wanted = 0
    for k, start_s in enumerate(np.arange(0.0, 200.0 - STRIP_S, STRIP_S)):
        at_s = start_s + np.arange(round(STRIP_S / S_PER_COLUMN)) * S_PER_COLUMN
        shown = np.interp(at_s, times_s, volts)
        rows = np.clip(ROWS * (0.85 - 0.25 * (shown - np.median(shown))), 2, ROWS - 3)
        picture = draw_line(speckle(shown.size, 55.0, k), rows, EcgStyle(colour=WHITE))
        peaks = find_r_peaks(-trace_ecg(picture).row, S_PER_COLUMN)
        found_s = start_s + peaks.column * S_PER_COLUMN
        core = beats_s[(beats_s > start_s + EDGE_S) & (beats_s < at_s[-1] - EDGE_S)]
        hits = [at for at in core if (np.abs(found_s - at) < MATCH_S).any()]
        hit, wanted = hit + len(hits), wanted + core.size
        found += sum((np.abs(beats_s - at) < MATCH_S).any() for at in found_s)
        assert len(found_s) - 2 <= core.size  # at most the beats that the ends cut
    assert hit / wanted >= 0.97


def test_speckle_alone_holds_no_line() -> None:
    with pytest.raises(NotMeasurable, match="no line"):
        find_thin_line(speckle(700, 55.0, 3)[..., 0].astype(float))


def test_a_drawn_axis_is_passed_over() -> None:
    picture = speckle(700, 40.0, 4)
    picture[40] = 255
    columns = np.arange(700)
    rows = 120 + 3 * np.sin(columns / 40) - 30 * np.exp(-0.5 * ((columns - 350) / 3) ** 2)
    drawn = draw_line(picture, rows, EcgStyle(colour=WHITE))
    found = find_thin_line(drawn[..., 0].astype(float))
    assert np.median(np.abs(found - rows)) < 1.5


def test_the_mask_covers_what_was_drawn_and_little_else() -> None:
    columns = np.arange(300)
    rows = 60 - 40 * np.exp(-0.5 * ((columns - 150) / 2.5) ** 2)
    picture = Image.new("L", (300, 100))
    ImageDraw.Draw(picture).line(
        list(zip(columns.tolist(), rows.tolist(), strict=True)), 255, 2
    )
    drawn = np.asarray(picture) > 0
    covered = line_mask(EcgLine(rows, np.ones(300, bool), (), 40.0), (100, 300))
    assert (covered & drawn).sum() >= 0.97 * drawn.sum()
    assert covered.sum() <= 3.5 * drawn.sum()


def test_nothing_is_masked_where_no_line_was_seen() -> None:
    seen = np.arange(300) < 100
    covered = line_mask(EcgLine(np.full(300, 50.0), seen, (), 0.0), (100, 300))
    assert covered[:, :100].any()
    assert not covered[:, 100:].any()
