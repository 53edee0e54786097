"""With advice and without, on a few known dogs; the full run is in docs/next-best-repeat.md."""

import pytest

from tableside.credibility.next_best.known_dog import Table, known_dogs
from tableside.credibility.next_best.losses import Repeat, losses
from tableside.credibility.next_best.simulation import simulate


def repeat(name: str) -> Repeat:
    return next(one for one in losses().repeats if one.id == name)


def test_two_ways_are_compared_at_the_same_seconds_and_are_repeatable() -> None:
    one = simulate(2, seed=2)
    assert one.usual.seconds == pytest.approx(one.advised.seconds)
    assert one.start.seconds == 0 <= one.advised.seconds <= 240
    assert one == simulate(2, seed=2)


def test_more_beats_keep_the_error_of_the_sweep_and_a_fresh_sweep_renews_it() -> None:
    kept, renewed = [], []
    for dog in known_dogs(60, 5, misspecified=False):
        once = Table(dog=dog)
        once.do(repeat("left-ventricle"), 40)
        first = once.exam().measurements[0].value
        once.do(repeat("beats-left-ventricle"), 15)
        kept.append(abs(once.exam().measurements[0].value / first - 1))
        once.do(repeat("left-ventricle"), 40)
        renewed.append(abs(once.exam().measurements[0].value / first - 1))
        assert once.seconds == 95
    assert sum(renewed) > 2 * sum(kept)


def test_readings_err_by_what_is_declared() -> None:
    # LVIDd: 4.5 % between sweeps, 3 % between readers, beats and trace over three
    logs = [dog.off("LVIDd", 0, 3) for dog in known_dogs(2000, 9, misspecified=False)]
    middle = sorted(logs)
    spread = (middle[1682] - middle[317]) / 2  # 16 and 84 percent: one sd whatever the tails
    assert spread == pytest.approx(
        (0.045**2 + 0.03**2 + (0.02**2 + 0.02**2) / 3) ** 0.5, rel=0.07
    )


def test_a_beam_off_axis_only_reads_low() -> None:
    dogs = known_dogs(300, 3, misspecified=False)
    assert sum(dog.off("MR_Vmax", 0, 3) for dog in dogs) < 0
    lost = [dog._sweep("MR_Vmax", 0) for dog in dogs]
    assert max(lost) <= 0
