"""Which beats of a spectrum are averaged, and what their scatter says of the reading."""

from dataclasses import replace
from math import sqrt
from statistics import stdev

import pytest

from tableside.measure.doppler import UNLIKE, measure_beats, without_strays
from tableside.model import Axis, Beat, Region, RegionKind, quantity


def beats(*values: float, sd: float = 0.01) -> list[Beat]:
    return [Beat(file="a.dcm", frame=0, value=value, sd=sd) for value in values]


def region() -> Region:
    return Region(
        index=0,
        kind=RegionKind.SPECTRAL,
        box=(0, 0, 699, 259),
        x=Axis(unit="s", per_pixel=0.004),
        y=Axis(unit="m/s", per_pixel=-0.01, origin_px=200.0),
    )


def test_a_beat_far_from_the_others_is_kept_but_not_used() -> None:
    # A wall echo read as E: 0.2 beside 0.6 m/s. Beats of one sweep differ by a few percent.
    kept = without_strays("E", beats(0.60, 0.62, 0.20, 0.61))
    assert [beat.reason for beat in kept] == [None, None, UNLIKE, None]


def test_breathing_leaves_no_beat_out() -> None:
    # E' of three beats of a person (human-echo I_000039): 14.3, 10.8 and 9.6 cm/s
    assert all(beat.used for beat in without_strays("E'", beats(0.143, 0.108, 0.096)))


def test_of_two_beats_neither_is_the_stray_one() -> None:
    assert all(beat.used for beat in without_strays("E", beats(0.6, 0.2)))


def test_beats_that_differ_as_beats_do_leave_the_interval_as_it_is() -> None:
    spread = quantity("E").variation.beat
    found = measure_beats("E", beats(0.6, 0.6 * (1 + spread), 0.6 * (1 - spread)), region())
    alike = measure_beats("E", beats(0.6, 0.6, 0.6), region())
    assert found.spread.trace == pytest.approx(alike.spread.trace, rel=0.01)


def test_beats_that_differ_more_put_the_reading_in_doubt() -> None:
    # What is left of the variance of a sample when the known parts are taken off (Gauss)
    values = (0.5, 0.6, 0.7)
    found = measure_beats("E", beats(*values), region())
    alike = measure_beats("E", beats(0.6, 0.6, 0.6), region())
    left = stdev(values) ** 2 - (quantity("E").variation.beat * 0.6) ** 2 - 0.01**2
    assert found.spread.trace == pytest.approx(sqrt(alike.spread.trace**2 + left), rel=1e-6)


def test_an_irregular_rhythm_does_not_put_the_reading_in_doubt() -> None:
    calm = measure_beats("E", beats(0.5, 0.6, 0.7), region(), irregular=True)
    assert calm.spread.trace < measure_beats("E", beats(0.5, 0.6, 0.7), region()).spread.trace
    assert replace(calm, spread=calm.spread).value == pytest.approx(0.6)
