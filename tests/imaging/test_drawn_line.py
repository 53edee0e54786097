"""A line without colour, against the pixels that the phantom drew."""

from dataclasses import replace

import numpy as np
import pytest

from tableside.imaging.drawn_line import colourless_line
from tableside.imaging.mmode_grey import mmode_grey
from tableside.phantom.ecg import EcgStyle
from tableside.phantom.mmode import MModeSpec, left_ventricle

WHITE = EcgStyle(colour=(235, 235, 235), width_px=1.6, amplitude_px=30)
SPEC = MModeSpec(columns=700, s_per_column=0.004, ecg_style=WHITE, jpeg=90)


@pytest.mark.parametrize("place", ["below", "across"])
def test_a_white_line_is_cut_out_with_its_spikes(place: str) -> None:
    drawn = left_ventricle(replace(SPEC, ecg=place), seed=5100)
    bare = left_ventricle(replace(SPEC, ecg=None), seed=5100)
    mask = colourless_line(drawn.pixels.max(axis=2))
    assert mask is not None
    with_line = drawn.pixels.max(axis=2).astype(float)
    changed = np.abs(with_line - bare.pixels.astype(float)) > 60
    assert mask[changed].mean() > 0.97
    assert mask.mean() < 3 * changed.mean() + 0.02


def test_cutting_it_out_brings_the_picture_back() -> None:
    drawn = left_ventricle(replace(SPEC, ecg="across"), seed=5101)
    bare = left_ventricle(replace(SPEC, ecg=None), seed=5101)
    before = np.abs(drawn.pixels.max(axis=2).astype(float) - bare.pixels).mean()
    after = np.abs(mmode_grey(drawn.pixels).grey - bare.pixels).mean()
    assert after < 0.5 * before


@pytest.mark.parametrize("gain_db", [-14, 0, 14, 24])
def test_no_echo_is_taken_for_a_drawn_line(gain_db: float) -> None:
    for seed in range(5110, 5114):
        bare = left_ventricle(replace(SPEC, ecg=None, gain_db=gain_db, rows=300), seed)
        assert colourless_line(bare.pixels) is None
