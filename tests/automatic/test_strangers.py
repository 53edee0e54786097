"""Tracings that are none of the labels: they may look like one, they must never be certain.

How veins, a duct, the left auricle and an annulus move through a beat: common practice.
"""

from collections.abc import Callable

import cv2
import numpy as np
import pytest

from tableside.automatic.suggest import suggest
from tableside.imaging.types import Floats, Pixels
from tableside.model import Axis, Image, Mode, Region, RegionKind, Rhythm, RWave

ROWS, COLUMNS, STEP_S, RR_S = 260, 800, 0.004, 0.55
PHASE = (np.arange(COLUMNS) * STEP_S / RR_S) % 1.0
SYSTOLE = np.clip(np.sin(2 * np.pi * PHASE), 0.0, 1.0)
DEPTH = np.arange(400.0)[:, None]


def speckled(mean: Floats) -> Pixels:
    rng = np.random.default_rng(5)
    grain = rng.exponential(1.0, mean.shape) * mean + rng.exponential(3.0, mean.shape)
    return np.asarray(np.clip(cv2.GaussianBlur(grain, (0, 0), 1.0), 0, 255), dtype=np.uint8)


def image(pixels: Pixels, y: Axis, wave: str | None = None) -> Image:
    rows, columns = pixels.shape
    kind = RegionKind.M_MODE if y.unit == "cm" else RegionKind.SPECTRAL
    region = Region(
        index=0,
        kind=kind,
        box=(0, 0, columns - 1, rows - 1),
        x=Axis(unit="s", per_pixel=STEP_S),
        y=y,
        wave=wave,
    )
    mode = Mode.M_MODE if y.unit == "cm" else Mode.SPECTRAL
    return Image(file="a.dcm", mode=mode, rows=rows, columns=columns, regions=(region,))


def line(at: Floats, thick_px: float) -> Floats:
    return np.asarray(150 * np.exp(-0.5 * ((DEPTH - at) / thick_px) ** 2))


def annulus(excursion_px: float) -> Floats:
    at = 260 - excursion_px * SYSTOLE
    return 10 + line(at, 6.0) + 60 * (at < DEPTH) + 80 * (DEPTH < 40)


def vessel_without_cusps() -> Floats:
    walls = line(150 - 10 * SYSTOLE, 5.0) + line(230 - 10 * SYSTOLE, 5.0)
    return 10 + walls + 70 * (DEPTH < 100) + 80 * (DEPTH > 300)


@pytest.mark.parametrize(
    "mean", [annulus(20.0), annulus(40.0), vessel_without_cusps()], ids=["20", "40", "vessel"]
)
def test_an_mmode_of_something_else_waits(mean: Floats) -> None:
    pixels = speckled(mean)
    found = suggest(image(pixels, Axis(unit="cm", per_pixel=0.03)), pixels, None)
    assert found is None or found.certain is None


def hump(middle: float, half_width: float) -> Floats:
    return np.clip(1 - ((PHASE - middle) / half_width) ** 2, 0.0, None)


def turning(mean_m_s: float, change_m_s: float) -> Floats:
    return mean_m_s + change_m_s * np.cos(2 * np.pi * (PHASE - 0.3))


STRANGERS: dict[str, Callable[[], Floats]] = {
    "pulmonary vein": lambda: 0.4 * hump(0.25, 0.15) + 0.5 * hump(0.6, 0.15)
    - 0.25 * hump(0.93, 0.07),
    "hepatic vein": lambda: 0.2 * hump(0.93, 0.07) - 0.4 * hump(0.25, 0.15)
    - 0.3 * hump(0.6, 0.15),
    "left auricle": lambda: 0.5 * hump(0.93, 0.09) - 0.5 * hump(0.1, 0.09)
    + 0.3 * hump(0.6, 0.1),
    "duct": lambda: turning(2.5, 1.5),
    "hole between the ventricles": lambda: -turning(3.0, 1.5),
    "caval vein": lambda: turning(0.15, 0.05),
}  # fmt: skip


@pytest.mark.parametrize("name", STRANGERS)
@pytest.mark.parametrize("has_ecg", [True, False])
def test_a_spectrum_of_another_flow_waits(name: str, has_ecg: bool) -> None:
    speed = STRANGERS[name]()
    top_m_s = 1.3 * float(np.abs(speed).max())
    per_row = top_m_s / (ROWS / 2)
    rows_m_s = (ROWS / 2 - np.arange(ROWS))[:, None] * per_row
    band = 0.15 * np.abs(speed) + 1e-6
    power = np.exp(-0.5 * ((rows_m_s - 0.85 * speed) / band) ** 2)
    pixels = speckled(2 + 120 * power * (np.abs(speed) > 0.03 * top_m_s))
    y = Axis(unit="m/s", per_pixel=-per_row, origin_px=ROWS / 2)
    wave = "continuous" if np.abs(speed).max() > 2 else "pulsed"
    beats = np.arange(0, COLUMNS, RR_S / STEP_S)
    rhythm = Rhythm(r_waves=tuple(RWave(column=x, time_s=x * STEP_S) for x in beats))
    found = suggest(image(pixels, y, wave), pixels, rhythm if has_ecg else None)
    assert found is None or found.certain is None
