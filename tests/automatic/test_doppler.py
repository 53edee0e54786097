"""Doppler images measured from picture to number.

Truth of drawn spectra: what the phantom put in (closed form). Truth of the real tissue spectra:
their printed axis and what is white and what is black on them.
"""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tableside.automatic import ImageReading
from tableside.automatic.doppler import measure_spectrum
from tableside.automatic.ecg import read_ecg
from tableside.intake import open_study
from tableside.model import Axis, Image, Measurement, Mode, Region, RegionKind
from tableside.phantom.doppler import DopplerPhantom, FlowSpec, spectrum
from tableside.phantom.flow import flow_kind

SEEDS = (8101, 8102, 8103)  # not those that the options were chosen on

# Largest error of the mean over the seeds, as a share: targets of the project
BOUNDS: Mapping[str, Mapping[str, float]] = {
    "mitral inflow": {"E": 0.04, "A": 0.05, "DT": 0.10},
    "mitral regurgitation": {"MR_Vmax": 0.02, "MR_VTI": 0.05},
    "tricuspid regurgitation": {"TR_Vmax": 0.02},
    "aortic outflow": {"AV_Vmax": 0.02, "AV_VTI": 0.03, "AV_MG": 0.05, "ET": 0.05},
    "pulmonic outflow": {"PV_Vmax": 0.02, "PV_VTI": 0.03, "PV_MG": 0.05, "AT": 0.12},
    "aortic regurgitation": {"AR_Vmax": 0.02, "AR_PHT": 0.08},
    "pulmonic regurgitation": {"PR_Vmax": 0.03, "PR_Vend": 0.05},
    "mitral annulus septal": {"S'": 0.05, "E'": 0.06, "A'": 0.07},
    "mitral annulus lateral": {"S'": 0.05, "E'": 0.06, "A'": 0.07},
}


def as_image(drawn: DopplerPhantom, flow: str | None, wave: str) -> Image:
    rows, columns = drawn.pixels.shape[:2]
    region = Region(
        index=0,
        kind=RegionKind.SPECTRAL,
        box=(0, 0, columns - 1, rows - 1),
        x=Axis(unit="s", per_pixel=drawn.s_per_column),
        y=Axis(unit="m/s", per_pixel=-drawn.m_s_per_row, origin_px=drawn.baseline_row),
        wave=wave,
    )
    return Image(
        file="drawn.dcm",
        mode=Mode.SPECTRAL,
        rows=rows,
        columns=columns,
        regions=(region,),
        flow=flow,
    )


def read(spec: FlowSpec, seed: int, label: str | None = "") -> ImageReading:
    drawn = spectrum(spec, seed)
    wave = "continuous" if flow_kind(spec.flow).continuous else "pulsed"
    image = as_image(drawn, spec.flow if label == "" else label, wave)
    rhythm = read_ecg(image, drawn.pixels)[0] if spec.ecg else None
    return measure_spectrum(image, drawn.pixels, rhythm)


def named(reading: ImageReading) -> dict[str, Measurement]:
    return {one.quantity: one for one in reading.measurements}


@pytest.mark.parametrize("flow", BOUNDS)
def test_each_flow_gives_its_quantities_within_the_targets(flow: str) -> None:
    shares: dict[str, list[float]] = {name: [] for name in BOUNDS[flow]}
    for seed in SEEDS:
        found = named(read(FlowSpec(flow=flow), seed))
        truth = spectrum(FlowSpec(flow=flow), seed).truth
        for name, errors in shares.items():
            errors.append(found[name].value / truth[name] - 1)
    for name, bound in BOUNDS[flow].items():
        assert abs(float(np.mean(shares[name]))) < bound, (name, shares[name])


def test_intervals_hold_the_truth() -> None:
    held = []
    for number in range(10):
        flow = list(BOUNDS)[number % len(BOUNDS)]
        spec = FlowSpec(flow=flow, heart_rate=80.0 + 6 * number, gain_db=number - 5.0)
        truth = spectrum(spec, 8200 + number).truth
        for name, one in named(read(spec, 8200 + number)).items():
            if name in truth:
                low, high = one.interval90
                held.append(low <= truth[name] <= high)
    assert np.mean(held) > 0.75


def test_beats_name_their_points_times_and_scale() -> None:
    (peak,) = [m for m in read(FlowSpec(flow="aortic outflow"), 8101).measurements
               if m.quantity == "AV_Vmax"]  # fmt: skip
    drawn = spectrum(FlowSpec(flow="aortic outflow"), 8101)
    assert peak.scale == "drawn.dcm#0"
    for beat in peak.beats:
        ((x, y),) = beat.points
        assert (y - drawn.baseline_row) * drawn.m_s_per_row == pytest.approx(beat.value)
        assert beat.time_s == pytest.approx(x * drawn.s_per_column)


def test_the_mean_gradient_is_the_mean_of_the_squares() -> None:
    """Half a sine: the mean of 4 v² is 1.23 times 4 (mean v)² (Hatle's formula, computed)."""
    found = named(read(FlowSpec(flow="aortic outflow"), 8102))
    mean_m_s = found["AV_VTI"].value / 100 / (found["ET"].value / 1000)
    assert found["AV_MG"].value / (4 * mean_m_s**2) == pytest.approx(1.23, abs=0.06)


def test_premature_beats_are_left_out_with_the_reason() -> None:
    spec = FlowSpec(flow="aortic outflow", rhythm="premature beats", columns=1000)
    found = named(read(spec, 8103))["AV_VTI"]
    reasons = {beat.reason for beat in found.beats if not beat.used}
    assert {"premature beat", "beat after a premature beat"} <= reasons
    truth = spectrum(spec, 8103).truth["AV_VTI"]
    assert found.value == pytest.approx(truth, rel=0.05)


@pytest.mark.parametrize("flow", ["mitral inflow", "aortic outflow", "mitral regurgitation"])
def test_without_an_ecg_the_waves_give_the_beats(flow: str) -> None:
    spec = FlowSpec(flow=flow, ecg=False)
    found, truth = named(read(spec, 8104)), spectrum(spec, 8104).truth
    name = {"mitral inflow": "E", "aortic outflow": "AV_Vmax"}.get(flow, "MR_Vmax")
    assert found[name].value == pytest.approx(truth[name], rel=0.04)
    assert len(found[name].beats) >= 4
    assert "PEP" not in found


def test_fused_waves_are_called_fused_and_give_neither() -> None:
    reading = read(FlowSpec(flow="mitral inflow", heart_rate=190), 8105)
    assert not {"E", "A", "DT"} & named(reading).keys()
    assert any("fused" in note for note in reading.notes)


def test_an_incomplete_jet_is_a_lower_bound() -> None:
    spec = FlowSpec(flow="mitral regurgitation", incomplete=0.3)
    peak = named(read(spec, 8106))["MR_Vmax"]
    assert peak.bound == "lower"
    assert peak.value < spectrum(spec, 8106).truth["MR_Vmax"]


def test_a_jet_past_the_scale_is_a_lower_bound() -> None:
    spec = FlowSpec(flow="mitral regurgitation", scale_m_s=6.0, baseline=0.2)
    assert named(read(spec, 8107))["MR_Vmax"].bound == "lower"


def test_an_unlabelled_spectrum_waits_for_its_label() -> None:
    reading = read(FlowSpec(flow="mitral inflow"), 8101, label=None)
    assert reading.measurements == ()
    assert "worksheet.toml" in reading.notes[0]


def test_a_doubted_image_is_not_measured() -> None:
    drawn = spectrum(FlowSpec(flow="aortic outflow"), 8101)
    image = replace(as_image(drawn, "aortic outflow", "pulsed"), doubt="the ruler disagrees")
    reading = measure_spectrum(image, drawn.pixels, None)
    assert reading.measurements == ()
    assert "the ruler disagrees" in reading.notes[0]


def test_a_dim_spectrum_is_not_measured() -> None:
    reading = read(FlowSpec(flow="aortic outflow", gain_db=-25), 8101)
    assert reading.measurements == ()
    assert reading.notes


def test_an_inverted_display_is_said() -> None:
    drawn = spectrum(FlowSpec(flow="pulmonic outflow"), 8108)
    image = as_image(drawn, "pulmonic outflow", "pulsed")
    turned = drawn.pixels[::-1].copy()
    rows = drawn.pixels.shape[0]
    region = image.regions[0]
    assert region.y is not None
    axis = replace(region.y, origin_px=rows - 1 - drawn.baseline_row)
    image = replace(image, regions=(replace(region, y=axis),))
    reading = measure_spectrum(image, turned, None)
    peak = named(reading)["PV_Vmax"]
    assert peak.value == pytest.approx(drawn.truth["PV_Vmax"], rel=0.04)
    assert any("above the baseline" in note for note in reading.notes)


@pytest.mark.parametrize(
    ("number", "flow"), [(38, "mitral annulus lateral"), (39, "mitral annulus septal")]
)
def test_real_tissue_peaks_lie_at_the_edge_of_the_white(
    shared_data: Path, number: int, flow: str
) -> None:
    """Baseline row 352, 20 cm/s at row 240: printed on the screen."""
    path = shared_data / "human-echo" / f"I_{number:06d}.dcm"
    with open_study(path) as opened:
        image = replace(opened.study.images[0], flow=flow)
        pixels = opened.frame(image.file)
    found = named(measure_spectrum(image, pixels, read_ecg(image, pixels)[0]))
    assert set(found) == {"S'", "E'", "A'"}
    grey = pixels.max(axis=2).astype(float)
    for name, one in found.items():
        assert len([beat for beat in one.beats if beat.used]) >= 2
        for beat in one.beats:
            ((x, y),) = beat.points
            assert (y < 352) is (name == "S'")  # the apex moves little: S' up, E' and A' down
            assert abs(352 - y) / (352 - 240) * 0.20 == pytest.approx(beat.value, rel=0.03)
            outward = -1 if y < 352 else 1
            column = grey[:, round(x) - 1 : round(x) + 2].mean(axis=1)
            within = [column[round(y) - step * outward] for step in range(3, 15)]
            assert max(within) > 100  # white within
            assert column[round(y) + 14 * outward] < 60  # dark beyond


def test_an_outflow_without_its_top_is_a_lower_bound() -> None:
    """The phantom lets the fastest 15 % fade; what is left lies below the truth."""
    for seed in SEEDS:
        spec = FlowSpec(flow="aortic outflow", incomplete=0.15, broadening=0.015)
        peak = named(read(spec, seed))["AV_Vmax"]
        assert peak.bound == "lower"
        assert peak.value < spectrum(spec, seed).truth["AV_Vmax"]


def test_an_inflow_that_reaches_the_end_of_its_scale_is_a_lower_bound() -> None:
    whole = spectrum(FlowSpec(flow="mitral inflow"), SEEDS[0])
    room = 0.76 * whole.truth["E"] / 0.98  # E reaches 98 % of the rows above the baseline
    spec = FlowSpec(flow="mitral inflow", baseline=0.76, scale_m_s=room / 0.76**2)
    assert named(read(spec, SEEDS[0]))["E"].bound == "lower"


@pytest.mark.parametrize("flow", ["aortic outflow", "pulmonic outflow"])
@pytest.mark.parametrize("reach", [1.06, 1.25])
def test_a_folded_outflow_is_unwrapped(flow: str, reach: float) -> None:
    name = {"aortic outflow": "AV", "pulmonic outflow": "PV"}[flow]
    peak = spectrum(FlowSpec(flow=flow), SEEDS[0]).truth[f"{name}_Vmax"]
    spec = FlowSpec(flow=flow, baseline=0.24, scale_m_s=peak / (reach * 0.76), ecg=False)
    found, truth = read(spec, SEEDS[0]), spectrum(spec, SEEDS[0]).truth
    for quantity, within in ((f"{name}_Vmax", 0.03), (f"{name}_VTI", 0.05)):
        assert named(found)[quantity].bound is None
        assert named(found)[quantity].value == pytest.approx(truth[quantity], rel=within)
    assert any("unwrapped" in note for note in found.notes)


def test_a_mirror_image_of_tissue_is_no_wave() -> None:
    """A mirror image peaks with its origin; the heart fills after it has emptied."""
    for seed in SEEDS:
        spec = FlowSpec(
            flow="mitral annulus septal", rhythm="atrial fibrillation", mirror_db=12.0
        )
        found = named(read(spec, seed))
        systolic_s = [beat.time_s for beat in found["S'"].beats]
        for beat in (one for one in found["E'"].beats if one.used):
            assert min(abs(beat.time_s - at_s) for at_s in systolic_s) > 0.04
