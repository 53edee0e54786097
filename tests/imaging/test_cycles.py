"""Beats of inflow without an ECG: by the gaps, and where those tell nothing by the areas."""

import pytest

from tableside.imaging.cycles import r_from_filling
from tableside.imaging.waves import Wave

COLUMN_S = 0.005


def wave(start_s: float, lasts_s: float, peak_px: float) -> Wave:
    start, end = start_s / COLUMN_S, (start_s + lasts_s) / COLUMN_S
    return Wave(
        first=round(start),
        last=round(end),
        start=start,
        end=end,
        peak_at=(start + end) / 2,
        peak_px=peak_px,
        peak_sd_px=1.0,
        start_sd=1.0,
        end_sd=1.0,
        contrast=1.0,
        mean_square_px2=0.5 * peak_px**2,
        is_whole=True,
        softness=0.0,
        flatness=0.0,
        area=0.5 * peak_px * (end - start),
    )


@pytest.mark.parametrize("begins_with_early", [True, False])
def test_evenly_spaced_waves_that_take_turns_in_area_are_parted_after_the_smaller(
    begins_with_early: bool,
) -> None:
    # A rate of 70/min with both gaps of 0.26 s: only the area tells E from A (common practice:
    # early filling carries more than atrial filling in most animals).
    waves, at_s = [], 0.0
    for turn in range(8):
        is_early = (turn % 2 == 0) == begins_with_early
        lasts_s = 0.19 if is_early else 0.14
        waves.append(wave(at_s, lasts_s, 150 if is_early else 115))
        at_s += lasts_s + 0.26
    found = r_from_filling(waves, COLUMN_S)
    smaller = waves[1::2] if begins_with_early else waves[::2]
    assert found == [one.end for one in smaller if one is not waves[-1]]


def test_fused_waves_that_are_all_alike_are_one_a_beat() -> None:
    waves = [wave(0.5 * turn, 0.30, 140) for turn in range(6)]
    assert r_from_filling(waves, COLUMN_S) == [one.end for one in waves[:-1]]
