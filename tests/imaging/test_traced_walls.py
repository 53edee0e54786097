"""Edges traced on phantoms, against the edges that the phantoms were made with.

The bounds are those that the project set itself: published readers differ by more (a single
expert from the consensus of thirteen by 1.2 to 2.0 mm, Journal of Veterinary Internal Medicine
2024). Seeds differ from those that the constants were tuned on.
"""

from dataclasses import replace

import numpy as np
import pytest

from tableside.errors import NotMeasurable
from tableside.imaging.walls import WallTrace, trace_walls
from tableside.phantom.mmode import MModePhantom, MModeSpec, left_ventricle

USUAL = MModeSpec(weight_kg=12, heart_rate=120, columns=700, s_per_column=0.004)
EDGES = {
    "septum_right": "septum right",
    "septum_left": "septum left",
    "endocardium": "wall endocardium",
    "epicardium": "wall epicardium",
}


def traced(phantom: MModePhantom) -> WallTrace:
    return trace_walls(
        phantom.pixels, cm_per_row=phantom.cm_per_row, s_per_column=phantom.s_per_column
    )


def errors_mm(phantom: MModePhantom, walls: WallTrace) -> dict[str, np.ndarray]:
    mm = 10 * phantom.cm_per_row
    return {
        name: (getattr(walls, name).leading - phantom.edges_row[truth]) * mm
        for name, truth in EDGES.items()
    }


@pytest.mark.parametrize(
    "spec",
    [
        USUAL,
        replace(USUAL, gain_db=-20),
        replace(USUAL, snr_db=9, gain_db=5, jpeg=60),
        replace(USUAL, rows=120, columns=300, s_per_column=0.008),
        replace(USUAL, rows=700, s_per_column=0.0008),
        replace(USUAL, depth_cm=20.0),
        replace(USUAL, skin_row=40, respiration_mm=5, ecg="across"),
        replace(USUAL, weight_kg=70, enlargement=1.5, wall=0.8, fractional_shortening=0.1),
        replace(USUAL, weight_kg=3, wall=1.9, heart_rate=200, s_per_column=0.002),
        replace(USUAL, chorda=True, trabeculae=True, dropout=0.1),
    ],
    ids=[
        "usual",
        "dim",
        "noisy and compressed",
        "small picture",
        "fast sweep",
        "too deep",
        "above the skin, breathing, ECG across",
        "large and weak",
        "small and thick",
        "false lines and dropout",
    ],
)
def test_edges_lie_within_their_bounds_on_hard_pictures(spec: MModeSpec) -> None:
    phantom = left_ventricle(spec, seed=4401)
    for name, error in errors_mm(phantom, traced(phantom)).items():
        # the epicardium is a rise from muscle to a line: fibres before it look alike
        least_mm, rows = (0.8, 2.5) if name == "epicardium" else (0.5, 1.5)
        allowed_mm = max(least_mm, rows * 10 * phantom.cm_per_row)
        assert np.median(np.abs(error)) < allowed_mm, name


def test_the_half_rise_is_moved_to_where_the_echo_begins() -> None:
    biases = []
    for seed in range(4410, 4414):
        phantom = left_ventricle(replace(USUAL, rows=500), seed)
        found = errors_mm(phantom, traced(phantom))
        biases.append([np.median(found[name]) for name in EDGES])
    # grey has risen by half 0.2 to 0.4 mm before the surface on these pictures (2 pulse widths)
    assert np.abs(np.mean(biases, axis=0)).max() < 0.12


def test_text_and_rulers_do_not_pull_the_edges() -> None:
    phantom = left_ventricle(USUAL, seed=4420)
    drawn = phantom.pixels.copy()
    drawn[5:16, 20:160:3] = 255
    drawn[::25, -8:] = 255
    drawn[-6:, ::60] = 255
    found = errors_mm(phantom, traced(replace(phantom, pixels=drawn)))
    assert max(np.median(np.abs(error)) for error in found.values()) < 0.5


def test_a_small_picture_above_the_tracing_is_left_out() -> None:
    phantom = left_ventricle(replace(USUAL, ecg=None), seed=4421)
    above = np.zeros((150, phantom.pixels.shape[1]), dtype=np.uint8)
    above[20:130, 250:450] = 90
    pixels = np.vstack([above, phantom.pixels])
    walls = traced(replace(phantom, pixels=pixels))
    moved = {name: rows + 150 for name, rows in phantom.edges_row.items()}
    found = errors_mm(replace(phantom, edges_row=moved), walls)
    assert max(np.median(np.abs(error)) for error in found.values()) < 0.5


def test_a_papillary_muscle_with_blood_behind_it_is_kept_as_a_second_line() -> None:
    spec = replace(USUAL, weight_kg=30, papillary=True, rows=600)
    phantom = left_ventricle(spec, seed=4430)
    walls = traced(phantom)
    assert walls.is_ambiguous.any()
    before_mm = (walls.endocardium.leading - walls.other_endocardium) * phantom.cm_per_row * 10
    assert 1.0 < np.nanmedian(before_mm) < 6.0


def test_a_white_picture_has_no_pericardium() -> None:
    walls = traced(left_ventricle(replace(USUAL, gain_db=24), seed=4440))
    assert not walls.epicardium.trusted.any()


def test_a_picture_without_contrast_is_not_measured() -> None:
    grey = np.full((300, 400), 90, dtype=np.uint8)
    with pytest.raises(NotMeasurable, match="raise the gain"):
        trace_walls(grey, cm_per_row=0.03, s_per_column=0.004)


def test_a_shallow_region_is_not_measured() -> None:
    phantom = left_ventricle(USUAL, seed=4450)
    with pytest.raises(NotMeasurable, match="check its scale"):
        trace_walls(phantom.pixels, cm_per_row=0.002, s_per_column=0.004)
