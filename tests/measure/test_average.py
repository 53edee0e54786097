"""Beats to one number, and what its spread is made of."""

from math import sqrt

import pytest

from tableside.errors import NotMeasurable, OutOfRange
from tableside.measure.average import PRIOR_BEATS, average, with_variation
from tableside.model import Beat, Measurement, Variation, quantity


def beats(*values: float, sd: float = 0.02, used: bool = True) -> list[Beat]:
    reason = None if used else "premature beat"
    return [
        Beat(file="a.dcm", frame=0, value=value, sd=sd, used=used, reason=reason)
        for value in values
    ]


def lvidd(*values: float, scale_sd: float = 0.005) -> Measurement:
    return average("LVIDd", beats(*values), method="automatic", scale_sd=scale_sd)


def test_the_value_is_the_mean_of_the_beats_used() -> None:
    mixed = beats(3.4, 3.6) + beats(9.0, used=False)
    found = average("LVIDd", mixed, method="automatic", scale_sd=0.005)
    assert found.value == pytest.approx(3.5)
    assert len(found.beats) == 3


def test_one_beat_has_the_published_variation_between_beats() -> None:
    # Source of the 2 %: data/spreads.toml, dogs, M-mode.
    assert lvidd(3.5).spread.beats == pytest.approx(0.02 * 3.5)


def test_the_beat_part_shrinks_with_the_square_root_of_the_beats() -> None:
    ratio = lvidd(3.5).spread.beats / lvidd(3.5, 3.5, 3.5, 3.5).spread.beats
    shrunk = sqrt(PRIOR_BEATS / (PRIOR_BEATS + 3))  # four equal beats pull the prior down
    assert ratio == pytest.approx(2.0 / shrunk)


def test_more_beats_do_not_cure_the_scale() -> None:
    assert lvidd(3.5, scale_sd=0.02).spread.calibration == pytest.approx(0.07)
    assert lvidd(*[3.5] * 10, scale_sd=0.02).spread.calibration == pytest.approx(0.07)


def test_the_interval_is_about_the_beats_in_the_picture() -> None:
    # The mean of ten drawn values is known as well as each can be read, however they differ:
    # sampling theory, all of a finite population seen (Cochran 1977, chapter 2)
    alike, apart = lvidd(*[3.5] * 4), lvidd(3.0, 4.0, 3.2, 3.8)
    assert apart.interval90 == pytest.approx(alike.interval90)
    assert apart.sd_total > alike.sd_total


def test_another_sweep_and_another_reader_are_kept_apart_from_this_reading() -> None:
    found = lvidd(3.5, 3.52, 3.48)
    variation = quantity("LVIDd").variation
    assert found.sd < found.sd_total
    expected = sqrt(
        found.sd**2
        + found.spread.beats**2
        + (variation.acquisition * 3.5) ** 2
        + (variation.reading * 3.5) ** 2
    )
    assert found.sd_total == pytest.approx(expected, rel=1e-6)


def test_no_usable_beat_says_why() -> None:
    with pytest.raises(NotMeasurable, match="premature beat"):
        average("LVIDd", beats(3.5, used=False), method="automatic", scale_sd=0.005)


def test_a_diameter_typed_in_millimetres_is_refused() -> None:
    # reference_values example "unit_slip": 42 typed as cm must be refused.
    with pytest.raises(OutOfRange, match=r"LVIDd = 42 cm; a dog or cat has 0.5 to 12"):
        lvidd(42.0)


def test_a_practice_puts_its_own_variation_in_the_place_of_the_published_one() -> None:
    found = lvidd(3.5, 3.52, 3.48)
    own = Variation(beat=0.0, acquisition=0.01, reading=0.0)
    here = with_variation(found, own)
    assert here.spread.acquisition == pytest.approx(0.01 * found.value)
    assert here.spread.reading == 0.0
    assert here.spread.trace == found.spread.trace
    assert here.sd == found.sd
    assert here.sd_total < found.sd_total
