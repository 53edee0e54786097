"""M-modes of the phantom: their truth, and that the picture shows it."""

import numpy as np
import pytest

from tableside.phantom.mmode import (
    MModePhantom,
    MModeSpec,
    aorta_left_atrium,
    left_ventricle,
    mitral_valve,
)

CLEAN = MModeSpec(ecg=None, dropout=0.0, snr_db=40.0, respiration_mm=0.0)


def at(edge: np.ndarray, column: float) -> float:
    return float(np.interp(column, np.arange(len(edge)), edge))


def test_the_same_seed_gives_the_same_picture_and_another_does_not() -> None:
    one, again = left_ventricle(MModeSpec(), 7), left_ventricle(MModeSpec(), 7)
    other = left_ventricle(MModeSpec(), 8)
    assert np.array_equal(one.pixels, again.pixels)
    assert one.truth == again.truth
    assert not np.array_equal(one.pixels, other.pixels)


def test_truth_of_each_beat_is_the_distance_of_the_true_edges() -> None:
    found = left_ventricle(CLEAN, 1)
    assert len(found.beats) >= 4
    for beat in found.beats:
        rows = [
            at(found.edges_row[name], beat.d_column)
            for name in ("septum right", "septum left", "wall endocardium", "wall epicardium")
        ]
        sizes = np.diff(rows) * found.cm_per_row
        values = [beat.values[name] for name in ("IVSd", "LVIDd", "LVPWd")]
        assert sizes == pytest.approx(values, abs=0.005)


def test_systole_is_the_smallest_cavity_of_the_beat() -> None:
    found = left_ventricle(CLEAN, 2)
    cavity = found.edges_row["wall endocardium"] - found.edges_row["septum left"]
    for beat in found.beats:
        end = int(beat.r_column) + 110
        smallest = cavity[int(beat.d_column) : end].min() * found.cm_per_row
        assert beat.values["LVIDs"] == pytest.approx(smallest, rel=0.01)


def test_walls_are_brighter_than_blood_by_the_true_edges() -> None:
    found = left_ventricle(CLEAN, 3)
    rows = np.arange(found.pixels.shape[0])[:, None]
    edge = found.edges_row
    cavity = (rows > edge["septum left"] + 8) & (rows < edge["wall endocardium"] - 8)
    wall = (rows > edge["wall endocardium"] + 3) & (rows < edge["wall epicardium"] - 3)
    assert found.pixels[cavity].mean() < 12
    assert found.pixels[wall].mean() > 60


def test_pericardium_is_the_brightest_echo_behind_the_cavity() -> None:
    found = left_ventricle(CLEAN, 4)
    profile = [
        np.mean([found.pixels[round(row) + shift, column]
                 for column, row in enumerate(found.edges_row["wall epicardium"])])
        for shift in range(-25, 40)
    ]  # fmt: skip
    assert abs(int(np.argmax(profile)) - 25) <= 4


def test_a_slanted_line_lengthens_everything_by_its_cosine() -> None:
    # Geometry: 15 degrees lengthen by 1 / cos 15 = 3.5 %.
    straight = left_ventricle(CLEAN, 5).truth
    slanted = left_ventricle(MModeSpec(ecg=None, off_axis_deg=15.0), 5).truth
    ratio = slanted["LVIDd"] / straight["LVIDd"]
    assert ratio == pytest.approx(1 / np.cos(np.radians(15)), rel=1e-6)


def test_rows_above_the_skin_are_black() -> None:
    found = left_ventricle(MModeSpec(ecg=None, skin_row=30.0), 6)
    assert found.pixels[:28].max() == 0
    assert found.pixels[30].mean() > 40


def test_ecg_makes_a_colour_picture_with_the_r_waves_at_their_columns() -> None:
    found = left_ventricle(MModeSpec(), 9)
    green = found.pixels[..., 1].astype(int) - found.pixels[..., 0]
    top = np.array([np.flatnonzero(green[:, c] > 60).min() for c in range(900)])
    for column in found.r_columns[1:-1]:
        near = top[int(column) - 8 : int(column) + 9]
        assert abs(int(np.argmin(near)) - 8 - (column - int(column))) <= 1.5


def test_e_point_gap_is_the_one_asked_for() -> None:
    found = mitral_valve(MModeSpec(ecg=None, epss_cm=0.6), 10)
    gap = found.edges_row["anterior mitral leaflet"] - found.edges_row["septum left"]
    assert found.truth["EPSS"] == pytest.approx(0.6, abs=0.01)
    assert gap.min() * found.cm_per_row == pytest.approx(0.6, abs=0.02)


def test_left_atrium_and_aorta_have_the_ratio_asked_for() -> None:
    truth = aorta_left_atrium(MModeSpec(left_atrium_to_aorta=1.6, ecg=None), 11).truth
    assert truth["LA"] / truth["Ao"] == pytest.approx(1.6, rel=0.02)
    # Source: Cornell 2004 by weight, fitted constants: 0.78 * 10^0.341 = 1.71 cm.
    assert truth["Ao"] == pytest.approx(1.71, abs=0.01)


@pytest.mark.parametrize("make", [left_ventricle, mitral_valve, aorta_left_atrium])
@pytest.mark.parametrize("weight_kg", [3.0, 55.0])
def test_small_and_large_dogs_fit_the_picture(make: object, weight_kg: float) -> None:
    assert callable(make)
    spec = MModeSpec(weight_kg=weight_kg, rows=120, columns=300, s_per_column=0.01, jpeg=80)
    found: MModePhantom = make(spec, 12)
    assert found.pixels.shape == (120, 300, 3)
    assert all(edge.max() < 119 for edge in found.edges_row.values())
