"""Heart rates of stored images, against what the machines printed or stored.

Sources: the printed truth listed with the real files (rates and R peaks read off the screens),
the attribute Heart Rate, and the attribute R Wave Time Vector.
"""

from pathlib import Path

import cv2
import numpy as np
import pytest

from tableside.automatic import ImageReading
from tableside.automatic.ecg import read_ecg
from tableside.intake import open_study
from tableside.model import Axis, Image, Mode, Region, RegionKind, Rhythm


def read(path: Path) -> tuple[Image, Rhythm | None, ImageReading]:
    with open_study(path) as opened:
        image = opened.study.images[0]
        return image, *read_ecg(image, opened.frame(image.file, image.frames - 1))


@pytest.mark.parametrize(
    ("file", "printed"),
    [
        ("human-echo/I_000001.dcm", 117.4),  # computed from the trace; 117 stored
        ("human-echo/I_000034.dcm", 49.9),  # R peaks at 187 and 475.5; a running 56 printed
        ("pig-mmode/vivid7_pig_colour_mmode.dcm", 96.3),  # computed; 96 printed
    ],
)
def test_the_rate_is_the_one_on_the_screen(
    shared_data: Path, file: str, printed: float
) -> None:
    _, _, reading = read(shared_data / file)
    (rate,) = reading.measurements
    assert rate.quantity == "HR"
    assert rate.value == pytest.approx(printed, rel=0.01)


@pytest.mark.parametrize("number", [2, 3, 4, 6])
def test_the_rate_of_a_clip_is_near_the_stored_one(shared_data: Path, number: int) -> None:
    image, _, reading = read(shared_data / "human-echo" / f"I_{number:06d}.dcm")
    assert image.stated_heart_rate is not None
    # the stored rate is a running mean; in a child it moves by a tenth between beats
    assert reading.measurements[0].value == pytest.approx(image.stated_heart_rate, rel=0.1)


def test_r_peaks_of_the_m_mode_lie_where_they_were_read(shared_data: Path) -> None:
    _, rhythm, _ = read(shared_data / "human-echo" / "I_000034.dcm")
    assert rhythm is not None
    assert [wave.column for wave in rhythm.r_waves] == pytest.approx([187, 475.5], abs=1.0)
    assert rhythm.rr_s[0] == pytest.approx(1.202, abs=0.006)


def test_r_waves_in_the_file_serve_where_the_picture_has_no_time(shared_data: Path) -> None:
    _, rhythm, reading = read(shared_data / "odd" / "r-wave-vector-jpegxl.dcm")
    assert rhythm is not None and rhythm.source == "file"
    # R Wave Time Vector 48.36 and 1130.03 ms; the attribute Heart Rate says 57
    assert reading.measurements[0].value == pytest.approx(55.5, abs=0.1)


def test_a_region_of_zero_width_is_passed_over_and_a_flat_line_is_said(
    shared_data: Path,
) -> None:
    _, rhythm, reading = read(shared_data / "odd" / "zero-width-ecg-region.dcm")
    assert rhythm is None and reading.measurements == ()
    assert "flat" in reading.notes[0]


def test_without_a_time_scale_there_is_no_rate(shared_data: Path) -> None:
    _, rhythm, reading = read(shared_data / "human-echo" / "I_000031.dcm")
    assert rhythm is None and reading.measurements == ()
    assert "time scale" in reading.notes[0]


def test_the_baseline_of_a_spectrum_with_its_flow_is_no_electrocardiogram() -> None:
    """A grey baseline with white waves on it looks like a line with complexes."""
    columns, zero = 900, 300
    at_s = (np.arange(columns) * 0.005 + 0.1) % 0.6
    early = np.interp(at_s, [0.30, 0.37, 0.49], [0, 162, 0])
    flow = np.maximum(early, np.interp(at_s, [0.50, 0.55, 0.599], [0, 126, 0]))
    height = zero - np.arange(400.0)[:, None]
    inside = (height > 0) & (height < flow)
    light = np.where(inside, 70 + 80 * height / np.maximum(flow, 1), 0.0)
    light = np.where(inside & (height < 0.6 * flow), 15.0, light) + 6
    light = cv2.GaussianBlur(light + 60 * np.exp(-0.5 * height**2), (0, 0), 0.8)
    grain = cv2.GaussianBlur(np.random.default_rng(9).gamma(4, 0.25, light.shape), (0, 0), 1.2)
    pixels = np.clip(light * np.clip(2 * grain - 1, 0.2, 2.5), 0, 255).astype(np.uint8)
    image = Image(
        file="flow.png",
        mode=Mode.SPECTRAL,
        rows=400,
        columns=columns,
        regions=(
            Region(
                index=0,
                kind=RegionKind.SPECTRAL,
                box=(0, 0, columns - 1, 399),
                x=Axis(unit="s", per_pixel=0.005),
                y=Axis(unit="m/s", per_pixel=-0.006, origin_px=float(zero)),
            ),
        ),
    )
    rhythm, found = read_ecg(image, pixels)
    assert rhythm is None
    assert found.measurements == ()
