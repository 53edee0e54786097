"""M-modes from picture to numbers, on phantoms and on a real tracing."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pydicom import dcmread

from tableside.automatic import ImageReading
from tableside.automatic.mmode import measure_mmode
from tableside.model import Axis, Image, Mode, Region, RegionKind, Rhythm, RWave
from tableside.phantom.mmode import (
    MModePhantom,
    MModeSpec,
    annular_excursion,
    aorta_left_atrium,
    left_ventricle,
    mitral_valve,
)

SPEC = MModeSpec(weight_kg=14, heart_rate=115, columns=800, s_per_column=0.004)


def image_of(phantom: MModePhantom, level: str | None) -> Image:
    rows, columns = phantom.pixels.shape[:2]
    region = Region(
        index=0,
        kind=RegionKind.M_MODE,
        box=(0, 0, columns - 1, rows - 1),
        x=Axis(unit="s", per_pixel=phantom.s_per_column),
        y=Axis(unit="cm", per_pixel=phantom.cm_per_row),
    )
    return Image(
        file="a.dcm",
        mode=Mode.M_MODE,
        rows=rows,
        columns=columns,
        mmode=level,
        regions=(region,),
    )


def rhythm_of(phantom: MModePhantom) -> Rhythm:
    waves = (
        RWave(column=float(x), time_s=float(x) * phantom.s_per_column)
        for x in phantom.r_columns
    )
    return Rhythm(r_waves=tuple(waves))


def read(phantom: MModePhantom, level: str, *, ecg: bool = True) -> ImageReading:
    rhythm = rhythm_of(phantom) if ecg else None
    return measure_mmode(image_of(phantom, level), phantom.pixels, rhythm)


def errors_mm(reading: ImageReading, phantom: MModePhantom) -> dict[str, float]:
    return {
        one.quantity: 10 * (one.value - phantom.truth[one.quantity])
        for one in reading.measurements
    }


# Bounds: the project's own targets for bias and mean absolute error.
def test_walls_are_measured_within_the_bounds_and_the_intervals_hold_the_truth() -> None:
    errors: list[dict[str, float]] = []
    held: list[bool] = []
    for seed in range(5500, 5508):
        spec = replace(SPEC, weight_kg=4 + 6 * (seed - 5500), gain_db=seed % 3 * 6 - 6)
        phantom = left_ventricle(spec, seed)
        reading = read(phantom, "left ventricle")
        errors.append(errors_mm(reading, phantom))
        held += [
            one.interval90[0] <= phantom.truth[one.quantity] <= one.interval90[1]
            for one in reading.measurements
        ]
    for quantity, bias_mm, mae_mm in (
        ("LVIDd", 0.3, 0.8),
        ("LVIDs", 0.6, 1.0),
        ("IVSd", 0.5, 0.7),
        ("IVSs", 0.5, 0.7),
        ("LVPWd", 0.5, 0.7),
        ("LVPWs", 0.5, 0.7),
    ):
        found = np.array([one[quantity] for one in errors])
        assert abs(found.mean()) < bias_mm and np.abs(found).mean() < mae_mm, quantity
    assert np.mean(held) >= 0.85


def test_without_an_ecg_the_tracing_gives_the_beats() -> None:
    phantom = left_ventricle(replace(SPEC, ecg=None), seed=5520)
    reading = read(phantom, "left ventricle", ecg=False)
    found = errors_mm(reading, phantom)
    assert abs(found["LVIDd"]) < 1.3 and abs(found["LVIDs"]) < 1.0
    assert any("No R waves" in note for note in reading.notes)


@pytest.mark.parametrize("gap_cm", [0.3, 1.2])
def test_epss_is_measured_within_a_millimetre(gap_cm: float) -> None:
    phantom = mitral_valve(replace(SPEC, epss_cm=gap_cm), seed=5530)
    assert abs(errors_mm(read(phantom, "mitral valve"), phantom)["EPSS"]) < 1.0


@pytest.mark.parametrize("ratio", [1.0, 1.9])
def test_aorta_and_atrium_are_measured_within_a_millimetre(ratio: float) -> None:
    phantom = aorta_left_atrium(replace(SPEC, left_atrium_to_aorta=ratio), seed=5540)
    reading = read(phantom, "aorta and left atrium")
    found = errors_mm(reading, phantom)
    assert abs(found["Ao"]) < 1.0 and abs(found["LA"]) < 1.0
    assert {one.detail for one in reading.measurements} == {"m-mode"}


@pytest.mark.parametrize(
    ("quantity", "level"), [("TAPSE", "tricuspid annulus"), ("MAPSE", "mitral annulus")]
)
@pytest.mark.parametrize("ecg", [True, False])
def test_the_excursion_of_an_annulus_is_measured_within_a_millimetre(
    quantity: str, level: str, ecg: bool
) -> None:
    for seed, share in ((5560, 0.6), (5561, 1.0), (5562, 1.3)):
        spec = replace(SPEC, excursion_cm=share, chorda=True, ecg="below" if ecg else None)
        phantom = annular_excursion(spec, seed, quantity)
        assert abs(errors_mm(read(phantom, level, ecg=ecg), phantom)[quantity]) < 1.0


def test_r_waves_that_do_not_fit_the_motion_are_not_used() -> None:
    phantom = left_ventricle(SPEC, seed=5565)
    true = rhythm_of(phantom)
    late = 0.45 * np.diff(phantom.r_columns).mean()
    false = replace(
        true, r_waves=tuple(replace(one, column=one.column + late) for one in true.r_waves)
    )
    reading = measure_mmode(image_of(phantom, "left ventricle"), phantom.pixels, false)
    found = errors_mm(reading, phantom)
    assert abs(found["LVIDd"]) < 1.3 and abs(found["LVIDs"]) < 1.0
    assert any("No R waves" in note for note in reading.notes)


def test_ejection_time_is_measured_within_ten_percent() -> None:
    phantom = aorta_left_atrium(SPEC, seed=5541)
    (found,) = (
        one
        for one in read(phantom, "aorta and left atrium").measurements
        if one.quantity == "ET"
    )
    assert found.value == pytest.approx(phantom.truth["ET"], rel=0.10)
    assert found.unit == "ms"


def test_without_an_ecg_the_root_gives_the_beats_and_no_ejection_time() -> None:
    phantom = aorta_left_atrium(replace(SPEC, ecg=None), seed=5542)
    reading = read(phantom, "aorta and left atrium", ecg=False)
    found = errors_mm(reading, phantom)
    assert found.keys() == {"Ao", "LA"} and max(map(abs, found.values())) < 1.0
    assert any("no ejection time" in note for note in reading.notes)


def test_an_unlabelled_tracing_waits_for_its_label() -> None:
    phantom = left_ventricle(SPEC, seed=5550)
    reading = measure_mmode(image_of(phantom, None), phantom.pixels, rhythm_of(phantom))
    assert reading.measurements == ()
    assert "mmode" in reading.notes[0] and "left ventricle" in reading.notes[0]


def test_a_doubtful_scale_forbids_measuring() -> None:
    phantom = left_ventricle(SPEC, seed=5551)
    image = image_of(phantom, "left ventricle")
    doubtful = replace(image.regions[0], doubt="the ruler disagrees with the header")
    reading = measure_mmode(
        replace(image, regions=(doubtful,)), phantom.pixels, rhythm_of(phantom)
    )
    assert reading.measurements == () and "the ruler disagrees" in reading.notes[0]


def test_noise_is_not_measured() -> None:
    phantom = left_ventricle(SPEC, seed=5552)
    noise = np.random.default_rng(3).integers(0, 255, phantom.pixels.shape, dtype=np.uint8)
    reading = measure_mmode(image_of(phantom, "left ventricle"), noise, rhythm_of(phantom))
    assert reading.measurements == () and reading.notes


def test_traces_lie_on_the_image_and_have_at_most_400_points() -> None:
    phantom = left_ventricle(SPEC, seed=5553)
    rows, columns = phantom.pixels.shape[:2]
    for trace in read(phantom, "left ventricle").traces:
        assert 100 < len(trace.points) <= 400
        assert all(0 <= x < columns and 0 <= y < rows for x, y in trace.points)


def test_a_real_mitral_tracing_is_read_as_by_eye(shared_data: Path) -> None:
    dataset = dcmread(shared_data / "human-echo" / "I_000034.dcm")
    pixels = np.asarray(dataset.pixel_array, dtype=np.uint8)
    # scale of the header, which the printed axes confirm: 10 cm, 2 s
    region = Region(
        index=1,
        kind=RegionKind.M_MODE,
        box=(23, 221, 663, 484),
        x=Axis(unit="s", per_pixel=0.0041667),
        y=Axis(unit="cm", per_pixel=0.0532317),
    )
    rows, columns = pixels.shape[:2]
    image = Image(
        file="I_000034.dcm",
        mode=Mode.M_MODE,
        rows=rows,
        columns=columns,
        mmode="mitral valve",
        regions=(region,),
    )
    peaks = (187.0, 475.5)  # R peaks as printed in the file's description
    rhythm = Rhythm(r_waves=tuple(RWave(column=x, time_s=(x - 23) * 0.0041667) for x in peaks))
    reading = measure_mmode(image, pixels, rhythm)
    (epss,) = reading.measurements
    (beat,) = epss.beats
    (x, septum), (_, leaflet) = beat.points
    # read by eye on the enlarged picture: E point and septum, to within 4 pixels
    assert x == pytest.approx(309, abs=8)
    assert leaflet == pytest.approx(354, abs=4) and septum == pytest.approx(334, abs=6)
    lines = {trace.name: dict(trace.points) for trace in reading.traces}
    for column, row in ((100.0, 316.0), (250.0, 313.0), (400.0, 316.5)):
        nearest = min(lines["septum, right side"], key=lambda at: abs(at - column))
        assert lines["septum, right side"][nearest] == pytest.approx(row, abs=4)
