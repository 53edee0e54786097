"""M-modes of an annulus and beside the axis: their truth, and that the picture shows it."""

import numpy as np
import pytest

from tableside.phantom.mmode import MModeSpec, annular_excursion, left_ventricle

CLEAN = MModeSpec(ecg=None, dropout=0.0, snr_db=40.0, respiration_mm=0.0)


@pytest.mark.parametrize("quantity", ["TAPSE", "MAPSE"])
def test_truth_of_each_beat_is_the_travel_of_the_true_edge(quantity: str) -> None:
    found = annular_excursion(CLEAN, 1, quantity)
    edge = found.edges_row["annulus"]
    for beat in found.beats:
        ends = np.interp([beat.d_column, beat.s_column], np.arange(len(edge)), edge)
        travel_cm = (ends[0] - ends[1]) * found.cm_per_row
        assert beat.values[quantity] == pytest.approx(travel_cm, abs=0.005)


def test_the_annulus_is_bright_where_the_truth_says_it_is() -> None:
    found = annular_excursion(CLEAN, 2)
    profile = [
        np.mean([found.pixels[round(row) + shift, column]
                 for column, row in enumerate(found.edges_row["annulus"])])
        for shift in range(-25, 26)
    ]  # fmt: skip
    assert abs(int(np.argmax(profile)) - 25) <= 4


def test_a_slanted_line_sees_the_cosine_of_the_excursion() -> None:
    # Geometry: at 20 degrees cos 20 = 0.940 of the way lies along the line.
    straight = annular_excursion(CLEAN, 3).truth["TAPSE"]
    slanted = annular_excursion(MModeSpec(ecg=None, off_axis_deg=20.0), 3).truth["TAPSE"]
    assert slanted / straight == pytest.approx(np.cos(np.radians(20)), rel=1e-6)


def test_a_line_beside_the_axis_crosses_a_chord() -> None:
    # Geometry: at 0.4 of the radius a circle is crossed along sqrt(1 - 0.4^2) of its diameter.
    central = left_ventricle(CLEAN, 4).truth
    beside = left_ventricle(MModeSpec(ecg=None, off_centre=0.4), 4).truth
    share = beside["LVIDd"] / central["LVIDd"]
    assert share == pytest.approx(np.sqrt(1 - 0.4**2), rel=0.005)


def test_a_wall_crossed_beside_the_axis_looks_thicker() -> None:
    # Geometry: the line cuts a ring of muscle aslant.
    central = left_ventricle(CLEAN, 5).truth
    beside = left_ventricle(MModeSpec(ecg=None, off_centre=0.4), 5).truth
    assert beside["LVPWd"] > 1.05 * central["LVPWd"]
