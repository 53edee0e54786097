"""Ejection time against a drawn line of cusps with known times."""

import numpy as np
import pytest
from tests.measure.test_walls_over_beats import COLUMNS, S_PER_COLUMN, place, rhythm

from tableside.errors import NotMeasurable
from tableside.measure.ejection import measure_ejection_time

ET_S = 0.15


def inside(late_beat: int | None = None) -> np.ndarray:
    """A bright line in the middle that is gone from 40 ms after each R wave for ET_S."""
    time_s = np.arange(COLUMNS) * S_PER_COLUMN
    grey = np.full((64, COLUMNS), 20.0)
    grey[:6], grey[-3:] = 160.0, 160.0
    shut = np.ones(COLUMNS, dtype=bool)
    for number, wave in enumerate(rhythm().r_waves):
        start = (wave.column - place().left) * S_PER_COLUMN + 0.04
        length = ET_S + (0.08 if number == late_beat else 0.0)
        shut &= ~((time_s >= start) & (time_s < start + length))
    grey[34:38, shut] = 110.0
    return grey


def test_the_time_from_opening_to_closure_is_found() -> None:
    found = measure_ejection_time(inside(), rhythm(), place())
    # 6 ms are added for the way of the cusps before the line is half gone and half back
    assert found.value == pytest.approx(1000 * ET_S + 6, abs=4)
    assert found.unit == "ms" and found.detail == "m-mode"


def test_a_beat_unlike_the_others_is_set_aside() -> None:
    found = measure_ejection_time(inside(late_beat=1), rhythm(), place())
    assert found.value == pytest.approx(1000 * ET_S + 6, abs=4)
    assert [beat.used for beat in found.beats].count(False) == 1


def test_without_cusps_there_is_no_ejection_time() -> None:
    grey = inside()
    grey[34:38] = 20.0
    with pytest.raises(NotMeasurable, match="cusps"):
        measure_ejection_time(grey, rhythm(), place())
