"""R waves against contractions.

The left ventricle begins to shrink within 0.1 s of the onset of the QRS in every beat (common
practice: the phases of the cardiac cycle).
"""

import pytest

from tableside.measure.in_step import is_in_step

CONTRACTIONS_S = [0.32, 0.91, 1.47, 2.20, 2.79]


def test_r_waves_just_before_each_contraction_fit() -> None:
    assert is_in_step([at - 0.12 for at in CONTRACTIONS_S], CONTRACTIONS_S)


def test_a_missed_r_wave_does_no_harm() -> None:
    waves = [at - 0.12 for at in CONTRACTIONS_S]
    assert is_in_step(waves[:2] + waves[3:], CONTRACTIONS_S)


@pytest.mark.parametrize(
    "waves",
    [[0.05, 0.70, 1.45, 1.90, 2.50], [0.35, 0.95, 1.50, 2.25], [0.2, 2.68]],
    ids=["without order", "after the contraction", "most contractions without"],
)
def test_false_r_waves_do_not(waves: list[float]) -> None:
    assert not is_in_step(waves, CONTRACTIONS_S)


def test_without_contractions_nothing_speaks_against_them() -> None:
    assert is_in_step([0.2, 0.8], [])
