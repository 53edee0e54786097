"""The tracing benchmark: its design is balanced, its seeds are apart, its figures are right."""

from collections import Counter

import numpy as np
import pytest
from benchmarks.accuracy.case import Case, Row
from benchmarks.accuracy.design import draw
from benchmarks.accuracy.doppler_cases import LEVELS as DOPPLER_LEVELS
from benchmarks.accuracy.ecg_score import compare
from benchmarks.accuracy.mmode_cases import LEVELS, make
from benchmarks.accuracy.score import bounds, figures
from benchmarks.accuracy.targets import scaled


def row(value: float | None, truth: float, half: float = 0.1, **labels: object) -> Row:
    case = Case(family="left ventricle", number=0, seed=1, factors={})
    interval = None if value is None else (value - half, value + half)
    return Row(
        case=case, quantity=str(labels.pop("quantity", "LVIDd")), truth=truth, readable=True,
        value=value, interval=interval, **labels,
    )  # fmt: skip


def test_each_level_comes_equally_often() -> None:
    cases = draw("left ventricle", 60, LEVELS, tune=False)
    counts = Counter(case.factors["weight"] for case in cases)
    assert set(counts.values()) == {10}


def test_tuning_and_reporting_never_share_a_seed() -> None:
    families = ("left ventricle", "mitral valve", "doppler", "ecg record", "pymust doppler")
    seeds = {
        tune: {case.seed for family in families for case in draw(family, 600, LEVELS, tune)}
        for tune in (True, False)
    }
    assert not seeds[True] & seeds[False]
    assert len(seeds[True]) == 600 * len(families)


def test_the_same_design_comes_again() -> None:
    assert draw("doppler", 9, DOPPLER_LEVELS, True) == draw("doppler", 9, DOPPLER_LEVELS, True)


def test_figures_are_those_of_numpy() -> None:
    errors_cm = np.array([0.05, -0.02, 0.10, 0.40])
    rows = [row(3.0 + error, 3.0) for error in errors_cm] + [row(None, 3.0)]
    found = figures("LVIDd", rows)
    assert found.bias == pytest.approx(10 * errors_cm.mean())
    assert found.sd == pytest.approx(10 * errors_cm.std(ddof=1))
    assert found.mae == pytest.approx(10 * np.abs(errors_cm).mean())
    assert found.reported == pytest.approx(80.0)  # four of five
    assert found.gross == pytest.approx(25.0)  # 4 mm is over 3 mm
    assert found.coverage == pytest.approx(75.0)  # 0.4 lies outside 0.1


def test_an_interval_is_about_the_beats_that_were_used() -> None:
    # 0.3 cm from the mean of all beats, yet 0.05 cm from the beat that was read.
    assert not row(3.3, 3.0, half=0.1).is_covered
    assert row(3.3, 3.0, half=0.1, beat_errors=(0.05,)).is_covered


def test_velocities_are_scored_in_percent() -> None:
    assert scaled("MR_Vmax", 0.11, 5.5) == pytest.approx(2.0)


def test_a_bound_above_the_truth_is_counted_as_wrong() -> None:
    labels = {"quantity": "MR_Vmax", "is_incomplete": True}
    low = row(4.0, 5.0, bound="lower", **labels)
    high = row(5.5, 5.0, bound="lower", **labels)
    unmarked = row(3.9, 5.0, **labels)
    found = bounds([low, high, unmarked])
    assert found is not None
    assert found.flagged == pytest.approx(200 / 3)
    assert found.wrong == pytest.approx(50.0)
    assert found.unflagged_low == pytest.approx(100.0)


def test_r_waves_are_matched_within_60_ms() -> None:
    true = np.array([100.0, 200.0, 300.0])
    found = np.array([101.0, 230.0, 300.0])  # the second is 150 ms off at 5 ms a column
    one = compare(found, true, 0.005, (0.0, 400.0), {})
    assert (one.true, one.found, one.matched) == (3, 3, 2)
    assert one.factors["right"] == "2"
    assert one.errors_ms == pytest.approx((5.0, 0.0))


def test_truth_of_a_case_is_the_distance_of_its_true_edges() -> None:
    levels = {name: choices[0] for name, choices in LEVELS.items()}
    levels |= {"rows": "300", "columns": "450", "gain": "0 dB", "breathing": "0 mm"}
    made = make(Case(family="left ventricle", number=0, seed=7, factors=levels))
    region = made.image.regions[0]
    for beat in made.beats["LVIDd"]:
        column = (beat.start_s + beat.end_s) / 2 / region.s_per_column
        rows = [
            np.interp(column, np.arange(len(made.edges[name])), made.edges[name])
            for name in ("septum left", "wall endocardium")
        ]
        assert (rows[1] - rows[0]) * region.cm_per_row == pytest.approx(beat.value, abs=0.01)
