"""Spectra of the phantom: their truth, and that the picture shows it."""

from dataclasses import replace

import numpy as np
import pytest

from tableside.errors import NotFound
from tableside.model import FLOWS
from tableside.phantom.doppler import DopplerPhantom, FlowSpec, spectrum
from tableside.phantom.flow import FLOW_KINDS, jet_m_s

QUIET = {"clicks": False, "ecg": False, "snr_db": 34.0}


def grey_edge_m_s(found: DopplerPhantom, sign: int) -> np.ndarray:
    """Fastest velocity in each column that is clearly brighter than the background."""
    grey = found.pixels.astype(float)
    rows = np.arange(grey.shape[0])
    speed = sign * (found.baseline_row - rows) * found.m_s_per_row
    bright = (grey > 110) & (speed > 0)[:, None]
    return (bright * speed[:, None]).max(axis=0)


def test_every_flow_of_the_records_can_be_made() -> None:
    assert tuple(FLOW_KINDS) == FLOWS


@pytest.mark.parametrize("flow", FLOWS)
def test_picture_shows_the_true_velocity(flow: str) -> None:
    found = spectrum(FlowSpec(flow=flow, **QUIET), 1)
    sign = FLOW_KINDS[flow].sign
    shown = np.quantile(grey_edge_m_s(found, sign), 0.985)
    true = np.quantile(sign * found.velocity_m_s, 0.985)
    # broadening and the transform's window put the grey edge some percent outside the truth
    assert 0.97 < shown / true < 1.22


@pytest.mark.parametrize("flow", FLOWS)
def test_same_seed_same_spectrum(flow: str) -> None:
    spec = FlowSpec(flow=flow, columns=300)
    assert np.array_equal(spectrum(spec, 3).pixels, spectrum(spec, 3).pixels)


def test_beam_angle_hides_its_cosine() -> None:
    # Doppler equation: 60 degrees show half.
    spec = FlowSpec(flow="mitral regurgitation", peaks_m_s=(5.6,), **QUIET)
    straight, aslant = spectrum(spec, 2), spectrum(replace(spec, angle_deg=60.0), 2)
    ratio = aslant.truth["MR_Vmax"] / straight.truth["MR_Vmax"]
    assert ratio == pytest.approx(0.5, rel=1e-9)
    assert aslant.true_peak_m_s == straight.true_peak_m_s == 5.6


def test_jet_follows_from_the_pressure_drop() -> None:
    # Simplified Bernoulli equation: 3 m/s is 36 mmHg (criterion for pulmonary hypertension
    # in dogs, memory); a drop of 130 mmHg drives 5.70 m/s.
    assert jet_m_s(np.array([36.0, 130.0, -4.0])) == pytest.approx([3.0, 5.70, 0.0], abs=5e-3)


def test_outflow_integral_lies_between_triangle_and_rectangle() -> None:
    # A half sine has 2 / pi of peak times duration, whatever its lean (calculus).
    truth = spectrum(FlowSpec(flow="aortic outflow", **QUIET), 4).truth
    want_cm = 2 / np.pi * truth["AV_Vmax"] * truth["ET"] / 10
    assert truth["AV_VTI"] == pytest.approx(want_cm, rel=0.01)
    # mean gradient of a half sine is 2 Vmax^2 (calculus)
    assert truth["AV_MG"] == pytest.approx(2 * truth["AV_Vmax"] ** 2, rel=0.02)


def test_fibrillation_has_no_a_wave() -> None:
    truth = spectrum(FlowSpec(flow="mitral inflow", rhythm="atrial fibrillation"), 5).truth
    assert "A" not in truth
    assert "E" in truth


def test_too_fast_for_the_scale_folds_to_the_other_side() -> None:
    # Nyquist: what exceeds the range reappears from the other edge.
    spec = FlowSpec(
        flow="aortic outflow", peaks_m_s=(1.6,), scale_m_s=2.0, baseline=0.5, **QUIET
    )
    found = spectrum(spec, 6)
    peak = int(np.argmin(found.velocity_m_s))
    wrapped_row = found.baseline_row - (found.velocity_m_s[peak] + 2.0) / found.m_s_per_row
    near = found.pixels[round(wrapped_row) - 12 : round(wrapped_row) + 3, peak - 2 : peak + 3]
    assert near.max() > 120


def test_mirror_ghost_appears_on_the_other_side() -> None:
    spec = FlowSpec(flow="mitral regurgitation", baseline=0.5, **QUIET)
    clean = spectrum(spec, 7)
    ghost = spectrum(replace(spec, mirror_db=12.0), 7)
    above = slice(20, int(clean.baseline_row) - 20)
    assert ghost.pixels[above].mean() > 2 * clean.pixels[above].mean()


def test_incomplete_top_fades_away() -> None:
    spec = FlowSpec(flow="mitral regurgitation", **QUIET)
    whole = np.quantile(grey_edge_m_s(spectrum(spec, 8), -1), 0.95)
    faded = np.quantile(grey_edge_m_s(spectrum(replace(spec, incomplete=0.3), 8), -1), 0.95)
    assert faded < 0.9 * whole


def test_wall_filter_blackens_the_baseline() -> None:
    spec = FlowSpec(flow="mitral inflow", baseline_drawn=False, **QUIET)
    filtered, open_ = spectrum(spec, 9), spectrum(replace(spec, wall_filter_m_s=0.0), 9)
    row = int(filtered.baseline_row)
    assert filtered.pixels[row].mean() < 1
    assert open_.pixels[row].mean() > 60


def test_unknown_flow_lists_the_known_ones() -> None:
    with pytest.raises(NotFound, match="mitral inflow"):
        spectrum(FlowSpec(flow="river"), 1)
