"""Beats without an ECG, against the R waves that the phantom was made with."""

from dataclasses import replace

import numpy as np
import pytest

from tableside.errors import NotMeasurable
from tableside.imaging.mmode_grey import mmode_grey
from tableside.imaging.periodicity import beat_length_s, beat_starts
from tableside.phantom.mmode import MModeSpec, left_ventricle

SPEC = MModeSpec(columns=900, s_per_column=0.004, ecg=None)


@pytest.mark.parametrize("rate", [70, 120, 180])
def test_the_length_of_a_beat_is_that_of_the_rhythm(rate: float) -> None:
    phantom = left_ventricle(replace(SPEC, heart_rate=rate), seed=6100)
    found = beat_length_s(mmode_grey(phantom.pixels).grey, phantom.s_per_column)
    assert found == pytest.approx(60 / rate, rel=0.04)


def test_beats_begin_where_the_cavity_begins_to_shrink() -> None:
    columns = np.arange(600)
    period = 130.0
    phase = (columns - 40) % period / period
    cavity = np.where(phase < 0.4, 200 - 60 * np.sin(np.pi / 2 * phase / 0.4), 0.0)
    cavity = np.where(phase >= 0.4, 140 + 60 * (phase - 0.4) / 0.6, cavity)
    starts = beat_starts(cavity, period)
    expected = 40 + period * np.arange(5)
    assert len(starts) == 5
    assert np.abs(starts - expected).max() < 0.05 * period


def test_a_still_picture_has_no_beats() -> None:
    noise = np.random.default_rng(1).normal(100, 20, (200, 500)).astype(np.float32)
    with pytest.raises(NotMeasurable, match="does not repeat"):
        beat_length_s(noise, 0.004)
