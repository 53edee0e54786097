"""Make the tracings of an independent simulator: ``python -m benchmarks.accuracy.make_pymust``.

`pymust` (an open simulator of ultrasound by linear acoustics, LGPL) computes the
radio-frequency echo of every line from point scatterers; nothing of the phantom's own drawing
is used, neither its pulse, its grain, nor its motion. The results are small and stored in
``benchmarks/data``, so that the benchmark runs without `pymust`: whole M-mode lines, and for
Doppler the response of the sample volume to one scatterer, from which an ensemble follows by
superposition, since linear acoustics adds. About twenty minutes on one core.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pymust  # type: ignore[import-untyped]
from scipy.interpolate import CubicSpline

from benchmarks.accuracy.case import Floats

DATA = Path(__file__).resolve().parents[1] / "data"
SOUND_M_S = 1540.0
HALF_WIDTH_M = 0.003
TISSUE_PER_MM2, BLOOD_PER_MM2 = 7.0, 2.0
BLOOD = 0.02  # size of an echo over that of muscle
ATTENUATION = 0.5  # dB/cm/MHz
SHEET_POINTS = 81
STEP_M = 0.0001  # rows of the stored picture
# Share of the beat from the R wave, contraction of the cavity, 0 to 1: read off drawn M-modes
# by eye; a spline runs through them.
PHASES = (0.0, 0.06, 0.15, 0.30, 0.37, 0.44, 0.52, 0.60, 0.75, 0.90, 1.0)
CONTRACTION = (0.0, 0.02, 0.35, 0.92, 1.0, 0.80, 0.38, 0.18, 0.13, 0.10, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chest:
    """A dog or cat under the probe; lengths in mm."""

    name: str
    weight_kg: float
    cavity_mm: float
    shortening: float
    septum_mm: float
    wall_mm: float
    rate: float
    frequency_mhz: float = 5.0
    chorda: bool = False
    sheet: float = 0.35  # echo of a smooth surface over that of one scatterer of muscle
    tilt: float = 0.05
    seconds: float = 1.25
    lines: int = 180


CHESTS = (
    Chest(name="dog 10 kg", weight_kg=10, cavity_mm=29, shortening=0.36, septum_mm=7.0,
          wall_mm=6.8, rate=110),
    Chest(name="cat 4 kg", weight_kg=4, cavity_mm=15, shortening=0.45, septum_mm=4.2,
          wall_mm=4.1, rate=190, frequency_mhz=7.0, seconds=0.8),
    Chest(name="dog 6 kg, mitral", weight_kg=6, cavity_mm=36, shortening=0.47, septum_mm=6.0,
          wall_mm=5.8, rate=140, seconds=1.0),
    Chest(name="dog 12 kg, chorda", weight_kg=12, cavity_mm=31, shortening=0.34, septum_mm=7.5,
          wall_mm=7.2, rate=100, chorda=True, seconds=1.4),
    Chest(name="dog 9 kg, faint surfaces", weight_kg=9, cavity_mm=28, shortening=0.33,
          septum_mm=6.8, wall_mm=6.5, rate=120, sheet=0.12, tilt=0.12),
    Chest(name="dog 25 kg, dilated", weight_kg=25, cavity_mm=54, shortening=0.15, septum_mm=7.6,
          wall_mm=7.2, rate=130, seconds=1.1),
)  # fmt: skip


def main() -> None:
    """Write every tracing into the data folder."""
    DATA.mkdir(exist_ok=True)
    np.savez_compressed(DATA / "pymust_gate.npz", **gate_response())
    for number, chest in enumerate(CHESTS):
        found = mmode(chest, seed=number)
        np.savez_compressed(DATA / f"pymust_mmode_{number}.npz", **found)
        print(chest.name, found["level"].shape, flush=True)


def _probe(frequency_mhz: float, elements: int) -> "pymust.utils.Param":
    param = pymust.getparam("P4-2v")
    param.fc = frequency_mhz * 1e6
    param.pitch = 0.6 * SOUND_M_S / param.fc
    param.kerf = 0.1 * param.pitch
    param.width = param.pitch - param.kerf
    param.Nelements = elements
    param.bandwidth = 70
    param.fs = 4 * param.fc
    return param


def mmode(chest: Chest, seed: int) -> Mapping[str, Any]:
    """Return the level of every line in half decibels, the true edges in mm and the R times."""
    rng = np.random.default_rng(seed)
    time_s = np.linspace(0, chest.seconds, chest.lines, endpoint=False)
    start_s = 0.12
    depths = _depths_m(time_s - start_s, chest)
    param = _probe(chest.frequency_mhz, 32)
    param.attenuation = ATTENUATION
    material = _material(chest, depths, rng)
    focus_m = float(depths["wall endocardium"].mean())
    delays = pymust.txdelay(0.0, focus_m, param)
    lag_s = _lag_s(param, delays, focus_m)
    reach_m = float(depths["end"].max())
    rows_m = np.arange(0.002, reach_m, STEP_M)
    lines = []
    for k in range(chest.lines):
        x, z, size = _scatterers(material, depths, k, time_s[k])
        echo, _ = pymust.simus(x, z, size, delays, param)
        lines.append(_axis_line(echo, param, rows_m, lag_s))
    size = np.abs(np.array(lines).T)
    size *= 10 ** (2 * ATTENUATION * chest.frequency_mhz * 100 * rows_m / 20)[:, None]
    reference = _muscle_size(size, rows_m, depths)
    level_db = 20 * np.log10(np.maximum(size / reference, 1e-6))
    beat_s = 60 / chest.rate
    r_s = start_s + beat_s * np.arange(-1, chest.seconds / beat_s + 1)
    edges = {f"edge {name}": 1000 * depth for name, depth in depths.items()}
    return {
        "level": np.clip(np.round(2 * (level_db + 80)), 0, 255).astype(np.uint8),
        "top_mm": np.array(2.0),
        "mm_per_row": np.array(1000 * STEP_M),
        "s_per_line": np.array(chest.seconds / chest.lines),
        "r_s": r_s[(r_s >= 0) & (r_s < chest.seconds)],
        "name": np.array(chest.name),
        **edges,
    }


def _depths_m(time_s: Floats, chest: Chest) -> dict[str, Floats]:
    """Return the depth of each interface at each line, from the skin."""
    full = CubicSpline(PHASES, CONTRACTION, bc_type="periodic")
    beat_s = 60 / chest.rate
    now = full((time_s % beat_s) / beat_s)
    scale = (chest.weight_kg / 10) ** (1 / 3)
    shrink = chest.cavity_mm * chest.shortening * now
    septum = chest.septum_mm * (1 + 0.40 * now)
    wall = chest.wall_mm * (1 + 0.55 * now)
    sway = 0.8 * np.sin(2 * np.pi * 0.4 * time_s)
    left = 22 * scale + chest.septum_mm + 0.38 * shrink + sway
    right = left - septum
    inner = 22 * scale + chest.septum_mm + chest.cavity_mm - 0.62 * shrink + sway
    outer = inner + wall
    mm = {
        "skin": np.full_like(now, 3.0),
        "right wall outside": right - 9 * scale - 0.3 * chest.wall_mm,
        "right ventricular wall": right - 8 * scale,
        "septum right": right,
        "septum left": left,
        "wall endocardium": inner,
        "wall epicardium": outer,
        "lung": outer + 1.5 * scale,
        "end": outer + 16 * scale,
    }
    return {name: 0.001 * value for name, value in mm.items()}


# layer, its top and bottom, points a square millimetre, echo size
LAYERS = (
    ("skin", "right wall outside", TISSUE_PER_MM2, 0.8),
    ("right wall outside", "right ventricular wall", TISSUE_PER_MM2, 1.0),
    ("right ventricular wall", "septum right", BLOOD_PER_MM2, BLOOD),
    ("septum right", "septum left", TISSUE_PER_MM2, 1.0),
    ("septum left", "wall endocardium", BLOOD_PER_MM2, BLOOD),
    ("wall endocardium", "wall epicardium", TISSUE_PER_MM2, 1.0),
    ("wall epicardium", "lung", TISSUE_PER_MM2, 3.5),
    ("lung", "end", 0.6 * TISSUE_PER_MM2, 0.7),
)
SHEETS = {"right ventricular wall": 0.8, "septum right": 1.2, "septum left": 1.0,
          "wall endocardium": 1.0, "wall epicardium": 3.0}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Material:
    """Points that belong to a layer or a surface: where they lie in it and how they echo."""

    top: str
    bottom: str
    x_m: Floats
    share: Floats
    offset_m: Floats
    size: Floats
    turn_hz: Floats
    phase: Floats


def _material(
    chest: Chest, depths: Mapping[str, Floats], rng: np.random.Generator
) -> list[Material]:
    found = []
    for top, bottom, per_mm2, size in LAYERS:
        thick_mm = 1000 * float(np.median(depths[bottom] - depths[top]))
        count = max(20, int(per_mm2 * thick_mm * 2000 * HALF_WIDTH_M))
        found.append(
            Material(
                top, bottom,
                rng.uniform(-HALF_WIDTH_M, HALF_WIDTH_M, count), rng.uniform(0, 1, count),
                np.zeros(count), size * rng.normal(0, 1, count),
                rng.normal(0, 12.0 if size == BLOOD else 0.8, count),
                rng.uniform(0, 2 * np.pi, count),
            )
        )  # fmt: skip
    x = np.linspace(-HALF_WIDTH_M, HALF_WIDTH_M, SHEET_POINTS)
    surfaces = [(name, chest.sheet * share, 0.0) for name, share in SHEETS.items()]
    if chest.chorda:
        surfaces.append(("wall endocardium", 0.7 * chest.sheet, -0.0022))
    for name, size, before_m in surfaces:
        bend = x**2 / (2 * 0.0005 * chest.cavity_mm) * (1 if name == "septum left" else -1)
        tilt = rng.normal(0, chest.tilt) * x
        rough = rng.normal(0, 2e-5, SHEET_POINTS)
        zero = np.zeros(SHEET_POINTS)
        found.append(
            Material(
                name, name, x, zero, before_m + bend + tilt + rough, zero + size, zero, zero
            )
        )
    return found


def _scatterers(
    material: list[Material], depths: Mapping[str, Floats], k: int, time_s: float
) -> tuple[Floats, Floats, Floats]:
    x, z, size = [], [], []
    for one in material:
        top, bottom = depths[one.top][k], depths[one.bottom][k]
        x.append(one.x_m)
        z.append(top + one.share * (bottom - top) + one.offset_m)
        size.append(one.size * np.cos(2 * np.pi * one.turn_hz * time_s + one.phase))
    return np.concatenate(x), np.concatenate(z), np.concatenate(size)


def _axis_line(
    echo: Floats, param: "pymust.utils.Param", rows_m: Floats, lag_s: float
) -> Floats:
    """Delay and sum along the axis of the probe, as complex echo."""
    analytic = _analytic(echo)
    places = (np.arange(param.Nelements) - (param.Nelements - 1) / 2) * param.pitch
    way_s = (rows_m[:, None] + np.hypot(rows_m[:, None], places)) / SOUND_M_S + lag_s
    sample = np.clip(way_s * param.fs, 0, len(analytic) - 2)
    low = sample.astype(int)
    share = sample - low
    column = np.arange(param.Nelements)
    turn = np.exp(2j * np.pi * param.fc * way_s)
    # interpolating the slow part: the carrier is taken out first
    carrier = np.exp(-2j * np.pi * param.fc * np.arange(len(analytic)) / param.fs)[:, None]
    slow = analytic * carrier
    value = (1 - share) * slow[low, column] + share * slow[low + 1, column]
    beam = (value * turn).sum(axis=1)
    return np.asarray(beam)


def _analytic(echo: Floats) -> Floats:
    """Return the analytic signal: positive frequencies alone."""
    spectrum = np.fft.fft(np.asarray(echo), axis=0)
    count = len(spectrum)
    spectrum[count // 2 + 1 :] = 0
    spectrum[1 : count // 2] *= 2
    return np.asarray(np.fft.ifft(spectrum, axis=0))


def _lag_s(param: "pymust.utils.Param", delays: Floats, depth_m: float) -> float:
    """Return when the echo of one point is strongest, less the way to it and back."""
    z = np.array([depth_m])
    echo, _ = pymust.simus(np.zeros(1), z, np.ones(1), delays, param)
    lags = np.linspace(-1e-6, 4e-6, 501)
    size = [abs(_axis_line(echo, param, z, float(lag))[0]) for lag in lags]
    return float(lags[int(np.argmax(size))])


def _muscle_size(size: Floats, rows_m: Floats, depths: Mapping[str, Floats]) -> float:
    top, bottom = depths["septum right"] + 0.001, depths["septum left"] - 0.001
    inside = (rows_m[:, None] > top) & (rows_m[:, None] < bottom)
    return float(np.sqrt(np.mean(size[inside] ** 2)))


def gate_response() -> Mapping[str, Any]:
    """Return what one scatterer gives in a sample volume at 4 cm, over its place in it.

    The carrier is taken out, so that the table is smooth and may be interpolated.
    """
    param = _probe(2.5, 24)
    param.TXnow = 6
    depth_m = 0.04
    delays = pymust.txdelay(0.0, depth_m, param)
    lag_s = _lag_s(param, delays, depth_m)
    x_m = np.linspace(0, 0.003, 13)
    z_m = np.linspace(-0.006, 0.006, 61)
    gate_m = depth_m + np.linspace(-0.0015, 0.0015, 25)
    window = np.hanning(25)
    table = np.zeros((len(x_m), len(z_m)), dtype=np.complex64)
    for i, x in enumerate(x_m):
        for k, z in enumerate(z_m):
            at = np.array([depth_m + z])
            echo, _ = pymust.simus(np.array([x]), at, np.ones(1), delays, param)
            line = _axis_line(echo, param, gate_m, lag_s)
            base = line * np.exp(-4j * np.pi * param.fc * gate_m / SOUND_M_S)
            turn = np.exp(4j * np.pi * param.fc * at[0] / SOUND_M_S)
            table[i, k] = (base * window).sum() * turn
    table /= np.abs(table).max()
    return {"x_m": x_m, "z_m": z_m, "table": table, "frequency_hz": np.array(param.fc)}


if __name__ == "__main__":
    main()
