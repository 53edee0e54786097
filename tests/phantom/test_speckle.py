"""The grain of the phantom against the textbook statistics of speckle."""

import numpy as np
import pytest

from tableside.phantom.doppler import FlowSpec, spectrum
from tableside.phantom.doppler_power import normal_share
from tableside.phantom.mline import Beam, Layer, draw_mline
from tableside.phantom.speckle import (
    Display,
    axial_sigma_cm,
    circular_noise,
    convolve_rows,
    drifting_noise,
    gaussian,
    grey,
)


def test_envelope_of_the_coherent_sum_has_the_ratio_of_a_rayleigh_distribution() -> None:
    # Mean over standard deviation of fully developed speckle is sqrt(pi / (4 - pi)) = 1.913.
    # Source: textbook speckle statistics (Goodman; Wagner 1983).
    noise = circular_noise((4000, 60), np.random.default_rng(1))
    envelope = np.abs(convolve_rows(noise, gaussian(2.6)))[20:-20]
    assert envelope.mean() / envelope.std() == pytest.approx(1.913, rel=0.02)


def test_pulse_keeps_the_mean_power_of_the_scatterers() -> None:
    noise = circular_noise((4000, 60), np.random.default_rng(2))
    blurred = convolve_rows(noise, gaussian(2.6))[20:-20]
    assert np.mean(np.abs(blurred) ** 2) == pytest.approx(1.0, rel=0.03)


def test_log_compressed_speckle_spreads_by_5_6_db() -> None:
    # Spread of 20 log10 of a Rayleigh variable: 10 / ln 10 * pi / sqrt(6) = 5.57 dB.
    # Source: textbook speckle statistics (log of an exponential variable is a Gumbel variable).
    display = Display(dynamic_range_db=80, top_db=20, curve=1.0)
    columns = 400
    layer = Layer(
        top_cm=np.zeros(columns), bottom_cm=np.full(columns, 9.0), level_db=np.zeros(columns),
        memory_s=1e-6,
    )  # fmt: skip
    beam = Beam(
        rows=400, columns=columns, cm_per_row=0.02, s_per_column=0.004, snr_db=90,
        display=display,
    )  # fmt: skip
    rng = np.random.default_rng(3)
    level_db = draw_mline([layer], [], beam, rng)[20:-20] / 255 * 80
    # a row averages a little over the pulse, so a little less than the theory is expected
    assert 4.4 < level_db.std() < 5.6


def test_mean_muscle_lies_where_the_display_puts_0_db() -> None:
    display = Display(dynamic_range_db=60, top_db=20, curve=1.0)
    assert grey(np.array([1.0]), display)[0] == pytest.approx(255 * 40 / 60)


def test_pulse_is_130_micrometres_at_5_mhz() -> None:
    # Source: a pulse of about two cycles, common practice.
    assert axial_sigma_cm(5.0) == pytest.approx(0.013)


def test_grain_forgets_itself_in_the_time_it_is_told() -> None:
    noise = drifting_noise(4000, np.full(12, 5.0), np.random.default_rng(4))
    after = np.mean(noise[:, 0] * noise[:, 5].conj()).real
    assert after == pytest.approx(np.exp(-1), abs=0.04)


def test_normal_distribution_function_is_that_of_the_tables() -> None:
    # Source: standard normal table, P(X < 1.96) = 0.9750, P(X < -1) = 0.1587.
    found = normal_share(np.array([0.0, 1.96, -1.0]))
    assert found == pytest.approx([0.5, 0.9750, 0.1587], abs=5e-5)


def test_a_spectrum_of_one_look_has_the_chi_square_grain_of_a_periodogram() -> None:
    # A periodogram bin is exponential: its log spreads by 5.57 dB (textbook spectral analysis).
    spec = FlowSpec(
        flow="mitral inflow", dynamic_range_db=90.0, snr_db=20.0,
        s_per_column=0.002, clicks=False, ecg=False, baseline_drawn=False, rows=300,
        wall_filter_m_s=0.0,
    )  # fmt: skip
    found = spectrum(spec, 5)
    empty = found.pixels[2:30].astype(float)
    level_db = (empty / 255) ** (1 / 1.5) * 90
    assert level_db.std() == pytest.approx(5.57, rel=0.06)
