"""`tableside validate` prints one table a question, and says which questions there are."""

import pytest

from tableside.cli.validate import run
from tableside.credibility.exam_model.injection import inject
from tableside.errors import NotFound


def test_an_unknown_validation_is_refused_with_the_list() -> None:
    with pytest.raises(NotFound, match="calibration, misspecified, faults, spreads"):
        run("everything")


def test_calibration_prints_coverage_of_each_quantity(
    capsys: pytest.CaptureFixture[str],
) -> None:
    run("calibration", simulations=5, seed=3)
    printed = capsys.readouterr().out
    assert "World: own" in printed
    assert "LVIDDN" in printed


def test_spreads_prints_how_far_a_stage_moves(capsys: pytest.CaptureFixture[str]) -> None:
    run("spreads", simulations=2, seed=3)
    printed = capsys.readouterr().out
    assert "x 0.5" in printed
    assert "x 1.5" in printed


def test_gross_faults_are_found_and_clean_readings_left_in_peace() -> None:
    # wanted: sensitivity 0.9 and 0.05 false alarms; here with room for so few exams
    found = inject("mitral recheck", 24, seed=8, faults_each=3)
    gross = ["m-mode scale x 2", "mitral jet scale x 0.5", "MR_Vmax at 60 degrees"]
    doubts = [p for name in gross for p in found.found.get(name, ())]
    assert len(doubts) > 5
    assert sum(p > 0.35 for p in doubts) / len(doubts) > 0.85
    clean = [p for each in found.clean.values() for p in each]
    assert sum(p > 0.35 for p in clean) / len(clean) < 0.05
