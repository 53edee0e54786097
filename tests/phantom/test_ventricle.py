"""The moving ventricle against the laws it must keep."""

from dataclasses import replace

import numpy as np
import pytest

from tableside.errors import NotFound
from tableside.phantom.rhythm import RHYTHMS, heart_beats
from tableside.phantom.ventricle import canine_ventricle, contraction


def test_muscle_keeps_its_volume_while_the_cavity_shrinks() -> None:
    # Muscle is incompressible: pi ((r + h)^2 - r^2) L is constant (physics).
    heart = canine_ventricle(10, 0.4, 1.0, 1.0)
    full = np.linspace(0, 1, 21)
    radius = heart.cavity_at(full) / 2
    volume = ((radius + heart.wall_at(full)) ** 2 - radius**2) * (1 - 0.14 * full)
    assert volume == pytest.approx(np.full(21, volume[0]), rel=1e-12)


def test_a_dog_of_10_kg_has_the_published_median_cavity() -> None:
    # Source: Esser 2020, LVIDd median 1.38 kg^0.322 cm: 2.90 cm at 10 kg.
    assert canine_ventricle(10, 0.36, 1.0, 1.0).cavity_cm == pytest.approx(2.90, abs=0.005)


def test_fractional_shortening_is_the_one_asked_for() -> None:
    heart = canine_ventricle(20, 0.31, 1.3, 1.0)
    full, rest = np.array(1.0), np.array(0.0)
    shortening = 1 - heart.cavity_at(full) / heart.cavity_at(rest)
    assert float(shortening) == pytest.approx(0.31)


def test_ventricle_rests_at_the_qrs_and_is_smallest_at_valve_closure() -> None:
    beats = heart_beats(4.0, 100, "sinus", np.random.default_rng(1))
    steady = tuple(replace(beat, vigour=1.0) for beat in beats)
    inner = [beat for beat in steady if 0 < beat.onset_s < 3.0]
    onset = contraction(np.array([beat.onset_s for beat in inner]), steady)
    closure = contraction(np.array([beat.closure_s for beat in inner]), steady)
    assert np.abs(onset).max() < 0.01
    assert closure == pytest.approx(np.ones(len(inner)), abs=0.02)


def test_ejection_is_shorter_in_a_faster_heart() -> None:
    # Source: ejection time index of dogs, ET + 0.55 HR (Atkins 1992, memory).
    def ejection_ms(rate: float) -> float:
        beats = heart_beats(6.0, rate, "sinus", np.random.default_rng(2))
        return 1000 * float(np.mean([beat.ejection_time_s for beat in beats]))

    assert ejection_ms(90) - ejection_ms(140) == pytest.approx(27.5, abs=1.0)


@pytest.mark.parametrize("rhythm", RHYTHMS)
def test_mean_rate_is_the_one_asked_for(rhythm: str) -> None:
    beats = heart_beats(60.0, 120, rhythm, np.random.default_rng(3))
    mean_s = np.mean([beat.rr_s for beat in beats])
    assert 60 / mean_s == pytest.approx(120, rel=0.05)


def test_fibrillation_is_irregular_and_has_no_atrial_kick() -> None:
    beats = heart_beats(30.0, 160, "atrial fibrillation", np.random.default_rng(4))
    intervals = np.array([beat.rr_s for beat in beats])
    assert intervals.std() / intervals.mean() > 0.1
    assert not any(beat.atrial for beat in beats)


def test_premature_beat_comes_early_and_contracts_less() -> None:
    beats = heart_beats(10.0, 100, "premature beats", np.random.default_rng(5))
    early = [beat for beat in beats if beat.premature and 0.5 < beat.r_s < 9]
    usual = [beat for beat in beats if not beat.premature and 0.5 < beat.r_s < 9]
    assert early
    assert max(beat.rr_before_s for beat in early) < 0.7 * 0.6
    least = max(contraction(np.array([beat.closure_s for beat in early]), beats))
    assert least < min(contraction(np.array([beat.closure_s for beat in usual]), beats))


def test_unknown_rhythm_lists_the_known_ones() -> None:
    with pytest.raises(NotFound, match="sinus arrhythmia"):
        heart_beats(2.0, 100, "waltz", np.random.default_rng(6))
