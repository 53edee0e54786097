"""Beat classes. Expected classes: definitions of premature beats (common practice)."""

import numpy as np
import pytest

from tableside.errors import NotMeasurable
from tableside.imaging.beats import classify_beats, find_r_peaks
from tableside.imaging.ecg import trace_ecg
from tableside.phantom.doppler import FlowSpec, spectrum


def test_a_regular_rhythm_is_used_whole() -> None:
    reasons, note = classify_beats([0.0, 0.5, 1.0, 1.51, 2.0], [0.98] * 5)
    assert reasons == (None,) * 5
    assert note is None


def test_a_premature_beat_and_the_one_after_it_are_left_out() -> None:
    times = [0.0, 0.6, 1.2, 1.55, 2.4, 3.0]  # early by four tenths, then a full pause
    reasons, note = classify_beats(times, [0.98, 0.98, 0.98, 0.5, 0.97, 0.98])
    assert reasons[3] == "premature beat"
    assert reasons[4] == "beat after a premature beat"
    assert reasons[:3] == (None, None, None) and reasons[5] is None
    assert note is not None and "premature" in note


def test_sinus_arrhythmia_is_not_premature() -> None:
    """Normal dogs: longest over shortest interval up to 1.3 and more, without a pause."""
    times = np.cumsum([0.0, 0.50, 0.55, 0.62, 0.66, 0.60, 0.53, 0.50, 0.55])
    reasons, _ = classify_beats(list(times), [0.97] * len(times))
    assert set(reasons) == {None}


def test_an_irregular_rhythm_is_said() -> None:
    times = np.cumsum([0.0, 0.35, 0.62, 0.41, 0.70, 0.38, 0.55, 0.33, 0.60])
    reasons, note = classify_beats(list(times), [0.97] * len(times))
    assert note is not None and note.startswith("irregular rhythm")
    assert set(reasons) == {None}


@pytest.mark.parametrize("seed", [901, 902, 903])
def test_drawn_premature_beats_are_told_by_shape_and_time(seed: int) -> None:
    spec = FlowSpec(flow="mitral inflow", rhythm="premature beats", heart_rate=110)
    drawn = spectrum(spec, seed)
    peaks = find_r_peaks(-trace_ecg(drawn.pixels).row, spec.s_per_column)
    reasons, _ = classify_beats(
        [float(at) * spec.s_per_column for at in peaks.column],
        [float(one) for one in peaks.likeness],
    )
    gaps = np.diff(drawn.r_columns)
    early = drawn.r_columns[1:][gaps < 0.75 * np.median(gaps)]
    said = peaks.column[[why == "premature beat" for why in reasons]]
    inside = early[(early > 5) & (early < spec.columns - 5)]
    assert said.size == inside.size
    assert np.abs(said - inside).max() < 6


@pytest.mark.parametrize("upright", [1, -1])
def test_polarity_is_free_and_the_place_is_a_fraction_of_a_column(upright: int) -> None:
    columns = np.arange(900.0)
    places = np.array([100.3, 260.7, 415.1, 580.9, 739.5])
    bells = [np.exp(-0.5 * ((columns - at) / 2.5) ** 2) for at in places]
    peaks = find_r_peaks(upright * 30 * np.sum(bells, axis=0), 0.004)
    assert peaks.upright is (upright > 0)
    assert peaks.column == pytest.approx(places, abs=0.15)


def test_a_flat_line_has_no_beats() -> None:
    rng = np.random.default_rng(0)
    with pytest.raises(NotMeasurable):
        find_r_peaks(rng.normal(0, 0.3, 600), 0.004)
