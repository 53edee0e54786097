"""Pulsed spectra from moving scatterers, by the sample volume of an independent simulator."""

from collections.abc import Mapping, Sequence
from functools import cache

import numpy as np

from benchmarks.accuracy.case import Case, Floats, Pixels, Tracing
from benchmarks.accuracy.layout import LEFT, TOP, Strip, lay_out
from benchmarks.accuracy.mmode_cases import look_of
from benchmarks.accuracy.pymust_cases import DATA
from tableside.phantom.rhythm import HeartBeat

SOUND_M_S = 1540.0
LEVELS: Mapping[str, Sequence[str]] = {
    "flow": ("aortic outflow", "pulmonic outflow", "mitral inflow"),
    "peak": ("0.7", "1", "1.5"),
    "angle": ("0", "20", "40"),
    "rate": ("80", "120", "160"),
    "gain": ("-6 dB", "0 dB", "0 dB", "+8 dB"),
    "noise": ("30 dB", "20 dB", "14 dB"),
    "range": ("30 dB", "40 dB", "50 dB"),
    "rows": ("180", "260", "360"),
    "columns": ("500", "800"),
    "profile": ("4", "8", "20"),
    "window": ("8 ms", "12 ms"),
    "jpeg": ("none", "85"),
    "ecg": ("below", "strip", "absent"),
    "colour": ("green", "yellow", "cyan"),
    "words": ("no",),
}
SECONDS, REACH, WHITE_DB, CLUTTER_DB = 2.2, 0.72, 3.0, 25.0
SCATTERERS = 240
REGION_M, RADIUS_M = 0.014, 0.006  # length of the stream around the sample, and its half width
# Velocity as a share of the peak: milliseconds after the R wave at 120/min, share. Our own
# drawing of usual shapes; straight lines between the points are smoothed.
SHAPES = {
    "aortic outflow": ((30, 0), (60, 0.72), (95, 1.0), (140, 0.86), (190, 0.52), (232, 0.0)),
    "pulmonic outflow": ((28, 0), (70, 0.58), (125, 1.0), (170, 0.82), (240, 0.0)),
    "mitral inflow": ((-500, 0), (275, 0), (320, 1.0), (395, 0.12), (405, 0.08), (450, 0.72),
                      (485, 0.0)),
}  # fmt: skip
SIGNS = {"aortic outflow": -1, "pulmonic outflow": -1, "mitral inflow": 1}
FASTEST = {"mitral inflow": 120.0}  # beyond it these two waves would be one
PEAKS = {"aortic outflow": "AV", "pulmonic outflow": "PV"}


@cache
def _gate() -> Mapping[str, Floats]:
    with np.load(DATA / "pymust_gate.npz") as stored:
        return {name: stored[name] for name in stored.files}


def is_present() -> bool:
    """Whether the sample volume was made."""
    return (DATA / "pymust_gate.npz").is_file()


def make(case: Case) -> Tracing:
    """Let blood flow through the sample volume and draw its spectrum."""
    level, rng = case.factors, np.random.default_rng(case.seed)
    sign = SIGNS[level["flow"]]
    cosine = float(np.cos(np.radians(float(level["angle"]))))
    peak_m_s = float(level["peak"]) * (0.8 if level["flow"] == "mitral inflow" else 1.0)
    room = 0.76
    range_m_s = peak_m_s * cosine / (REACH * room)
    repeat_hz = 2 * range_m_s * float(_gate()["frequency_hz"]) / SOUND_M_S
    pulse_s = np.arange(int(SECONDS * repeat_hz)) / repeat_hz
    rr_s = 60 / min(float(level["rate"]), FASTEST.get(level["flow"], np.inf))
    r_s = np.arange(0.08, SECONDS, rr_s)
    speed = peak_m_s * _course(pulse_s, r_s, rr_s, level["flow"])
    echo = _ensemble(speed * sign, repeat_hz, level, rng)
    rows, columns = int(level["rows"]), int(level["columns"])
    baseline = round((room if sign > 0 else 1 - room) * (rows - 1))
    pixels = _spectrum(echo, repeat_hz, (rows, columns, baseline), level)
    s_per_column = SECONDS / columns
    strip = Strip(
        pixels=pixels, s_per_column=s_per_column, per_row=range_m_s / rows, unit="m/s",
        origin_row=float(baseline), beats=_beats(r_s, rr_s), seed=case.seed,
    )  # fmt: skip
    image, shown = lay_out(strip, look_of(case, flow=level["flow"], wave="pulsed"))
    column_s = (np.arange(columns) + 0.5) * s_per_column
    edge = np.interp(column_s, pulse_s, speed) * cosine * sign
    truth = _truth(speed * cosine, pulse_s, (r_s, rr_s), level["flow"])
    return Tracing(
        case=case,
        image=image,
        pixels=shown,
        left=LEFT,
        truth=truth,
        readable=frozenset(truth),
        edges={"flow": TOP + baseline - edge / (range_m_s / rows)},
        r_columns=None if level["ecg"] == "absent" else LEFT + r_s / s_per_column,
        ecg_span=(LEFT, LEFT + columns - 1),
    )


def _course(time_s: Floats, r_s: Floats, rr_s: float, flow: str) -> Floats:
    """Return the speed as a share of its peak; the atrial wave keeps to the next R."""
    result = np.zeros_like(time_s)
    points = np.array(SHAPES[flow], dtype=np.float64)
    stretch = np.sqrt(rr_s / 0.5)
    at_s = points[:, 0] / 1000 * stretch
    if flow == "mitral inflow":
        at_s[4:] = points[4:, 0] / 1000 - 0.5 + rr_s  # the atrium keeps to the next QRS
        at_s[3] = min(at_s[3], at_s[4] - 0.002)
    for start in np.concatenate([[r_s[0] - rr_s], r_s]):
        result = np.maximum(result, np.interp(time_s, start + at_s, points[:, 1], 0, 0))
    width = max(3, int(0.012 / (time_s[1] - time_s[0])))
    smooth = np.hanning(width + 2)[1:-1]
    result = np.convolve(result, smooth / smooth.sum(), mode="same")
    return np.asarray(result / result.max())


def _ensemble(
    speed: Floats, repeat_hz: float, level: Mapping[str, str], rng: np.random.Generator
) -> Floats:
    """Return the complex echo of the sample, one value a pulse."""
    angle = np.radians(float(level["angle"]))
    across = rng.uniform(-RADIUS_M, RADIUS_M, SCATTERERS)
    profile = 1 - np.abs(across / RADIUS_M) ** float(level["profile"])
    start = rng.uniform(0, REGION_M, SCATTERERS)
    size = rng.normal(0, 1, SCATTERERS)
    # positive velocity comes towards the probe: depth falls
    travel = -np.cumsum(speed) / repeat_hz
    along = (start + travel[:, None] * profile) % REGION_M - REGION_M / 2
    # a scatterer that leaves at one end comes in anew at the other: another one
    wraps = np.floor((start + travel[:, None] * profile) / REGION_M).astype(np.int64)
    x = along * np.sin(angle) + across * np.cos(angle)
    z = along * np.cos(angle) - across * np.sin(angle)
    echo = np.asarray((_weight(x, z) * size * np.cos(wraps * 2.4 + start * 999)).sum(axis=1))
    echo /= np.sqrt(np.mean(np.abs(echo) ** 2))
    noise_db = -float(level["noise"].removesuffix(" dB"))
    noise = 10 ** (noise_db / 20) * np.sqrt(0.5) * rng.standard_normal((2, len(speed)))
    walls = 10 ** (CLUTTER_DB / 20) * np.exp(2j * np.pi * rng.uniform()) * np.ones(len(speed))
    return np.asarray(echo + noise[0] + 1j * noise[1] + walls)


def _weight(x: Floats, z: Floats) -> Floats:
    """Return the table at any place, with the phase of the way there and back."""
    gate = _gate()
    x_m, z_m, table = gate["x_m"], gate["z_m"], gate["table"]
    u = np.clip(np.abs(x) / (x_m[1] - x_m[0]), 0, len(x_m) - 1.001)
    v = np.clip((z - z_m[0]) / (z_m[1] - z_m[0]), 0, len(z_m) - 1.001)
    i, k = u.astype(int), v.astype(int)
    p, q = u - i, v - k
    value = (1 - p) * ((1 - q) * table[i, k] + q * table[i, k + 1])
    value = value + p * ((1 - q) * table[i + 1, k] + q * table[i + 1, k + 1])
    inside = (np.abs(x) < x_m[-1]) & (np.abs(z) < z_m[-1])
    turn = np.exp(-4j * np.pi * float(gate["frequency_hz"]) * z / SOUND_M_S)
    return np.asarray(value * turn * inside)


def _spectrum(
    echo: Floats, repeat_hz: float, place: tuple[int, int, int], level: Mapping[str, str]
) -> Pixels:
    """Filter the walls out, transform, and draw with the baseline in its row."""
    rows, columns, baseline = place
    length = max(16, int(float(level["window"].removesuffix(" ms")) / 1000 * repeat_hz))
    mean = np.hanning(2 * length + 1)
    around = np.pad(echo, length, mode="reflect")
    filtered = echo - np.convolve(around, mean / mean.sum(), mode="valid")
    padded = np.pad(filtered, length, mode="reflect")
    starts = np.linspace(0, len(echo), columns, endpoint=False) + length / 2
    at = starts.astype(int)[:, None] + np.arange(length)
    bins = 2 * rows
    power = np.abs(np.fft.fft(padded[at] * np.hanning(length), bins, axis=1)) ** 2
    frequency = np.fft.fftfreq(bins)
    order = np.argsort(frequency)
    # rows from the top: velocity falls; beyond half the rate it folds over
    share = (baseline - np.arange(rows)) / rows
    share = (share + 0.5) % 1 - 0.5
    column = np.argmin(np.abs(share[:, None] - frequency[order]), axis=1)
    shown = power[:, order][:, column].T
    level_db = 10 * np.log10(np.maximum(shown, 1e-12))
    level_db -= 10 * np.log10(np.quantile(shown, 0.995))
    level_db += float(level["gain"].removesuffix(" dB"))
    range_db = float(level["range"].removesuffix(" dB"))
    grey = 255 * np.clip((level_db - WHITE_DB) / range_db + 1, 0, 1)
    return np.asarray(np.round(grey), dtype=np.uint8)


def _beats(r_s: Floats, rr_s: float) -> tuple[HeartBeat, ...]:
    times = [r_s[0] - rr_s, *r_s, r_s[-1] + rr_s]
    return tuple(HeartBeat(r_s=float(at), rr_s=rr_s, rr_before_s=rr_s) for at in times)


def _truth(
    speed: Floats, time_s: Floats, beats: tuple[Floats, float], flow: str
) -> dict[str, float]:
    """Return what a beat in the middle shows; all beats are alike."""
    r_s, rr_s = beats
    inside = (time_s >= r_s[1] - 0.02) & (time_s < r_s[1] - 0.02 + rr_s)
    one, at_s = speed[inside], time_s[inside]
    step_s = at_s[1] - at_s[0]
    if flow == "mitral inflow":
        early = one * (at_s < r_s[1] + rr_s - 0.115)
        return {"E": float(early.max()), "A": float((one - early).max())}
    name = PEAKS[flow]
    flowing = one[one > 0.02 * one.max()]
    return {
        f"{name}_Vmax": float(one.max()),
        f"{name}_VTI": float(one.sum() * step_s * 100),
        f"{name}_MG": float(np.mean(4 * flowing**2)),
        "ET": float(len(flowing) * step_s * 1000),
    }
