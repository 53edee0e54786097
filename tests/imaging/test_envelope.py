"""The envelope of a spectrum and its parts. Truth: the velocity that the phantom drew."""

import time

import numpy as np
import pytest

from tableside.errors import NotMeasurable
from tableside.imaging.envelope import find_clicks, trace_envelope
from tableside.imaging.flow import FlowKind, trace_flow
from tableside.imaging.spectrum import opposite, split_sides
from tableside.phantom.doppler import DopplerPhantom, FlowSpec, spectrum
from tableside.phantom.flow import flow_kind

SEED = 7100  # not one that the options were chosen on


def traced(spec: FlowSpec, seed: int = SEED) -> tuple[DopplerPhantom, np.ndarray, np.ndarray]:
    """Return the picture, the traced and the true heights in rows."""
    drawn = spectrum(spec, seed)
    kind = flow_kind(spec.flow)
    sides = split_sides(drawn.pixels, drawn.baseline_row)
    flow = trace_flow(sides, kind.sign, spec.s_per_column, FlowKind(pulsed=not kind.continuous))
    truth = np.clip(kind.sign * drawn.velocity_m_s, 0, None) / drawn.m_s_per_row
    return drawn, flow.curve.height_px, truth


@pytest.mark.parametrize(
    "flow",
    ["mitral regurgitation", "tricuspid regurgitation", "aortic outflow", "pulmonic outflow"],
)
@pytest.mark.parametrize("gain_db", [-5.0, 0.0, 5.0])
def test_the_top_lies_within_2_percent_whatever_the_gain(flow: str, gain_db: float) -> None:
    _, height, truth = traced(FlowSpec(flow=flow, gain_db=gain_db))
    top = truth > 0.8 * truth.max()
    assert np.mean(height[top] / truth[top]) == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("broadening", [0.015, 0.05])
def test_the_correction_follows_the_blur_of_the_picture(broadening: float) -> None:
    spec = FlowSpec(flow="mitral regurgitation", broadening=broadening)
    _, height, truth = traced(spec)
    top = truth > 0.8 * truth.max()
    assert np.mean(height[top] / truth[top]) == pytest.approx(1.0, abs=0.02)


def test_clicks_are_found_and_are_no_flow() -> None:
    drawn = spectrum(FlowSpec(flow="aortic outflow"), SEED)
    sides = split_sides(drawn.pixels, drawn.baseline_row)
    clicks = find_clicks(opposite(sides.down, sides.up))
    assert 0.02 < clicks.mean() < 0.15
    quiet = spectrum(FlowSpec(flow="aortic outflow", clicks=False), SEED)
    sides = split_sides(quiet.pixels, quiet.baseline_row)
    assert find_clicks(opposite(sides.down, sides.up)).mean() < 0.01


def test_a_flow_that_wraps_is_unwrapped() -> None:
    spec = FlowSpec(flow="aortic outflow", peaks_m_s=(1.4,), scale_m_s=1.9, baseline=0.4)
    drawn, height, truth = traced(spec)
    assert truth.max() > spec.rows - drawn.baseline_row  # it does not fit on its side
    assert np.quantile(height, 0.99) == pytest.approx(truth.max(), rel=0.06)


def test_the_drawn_ecg_leaves_no_trace_in_the_spectrum() -> None:
    drawn = spectrum(FlowSpec(flow="aortic outflow"), SEED)
    plain = spectrum(FlowSpec(flow="aortic outflow", ecg=False), SEED)
    with_line = split_sides(drawn.pixels, drawn.baseline_row).down.grey
    without = split_sides(plain.pixels, plain.baseline_row).down.grey
    assert abs(float(with_line[-30:].mean()) - float(without[-30:].mean())) < 6


def test_both_sides_read_alike() -> None:
    drawn = spectrum(FlowSpec(flow="mitral regurgitation", ecg=False), SEED)
    sides = split_sides(drawn.pixels, drawn.baseline_row)
    turned = split_sides(drawn.pixels[::-1], drawn.pixels.shape[0] - 1 - drawn.baseline_row)
    assert np.array_equal(turned.up.grey, sides.down.grey)
    assert turned.up.first_px == sides.down.first_px


def test_noise_alone_is_not_measured() -> None:
    rng = np.random.default_rng(4)
    grey = rng.rayleigh(12, (260, 600)).clip(0, 255)
    with pytest.raises(NotMeasurable):
        trace_flow(split_sides(grey.astype(np.uint8), 130), 1, 0.004)


def test_a_spectrum_of_260_by_1000_takes_less_than_a_tenth_of_a_second() -> None:
    """The goal is 60 ms; a loaded machine gets five times as long."""
    drawn = spectrum(FlowSpec(flow="aortic outflow", columns=1000), SEED)
    sides = split_sides(drawn.pixels, drawn.baseline_row)
    mirrored = opposite(sides.down, sides.up)
    took = []
    for _ in range(3):
        start = time.process_time()
        trace_envelope(sides.down.grey, mirrored)
        took.append(time.process_time() - start)
    assert min(took) < 0.3
