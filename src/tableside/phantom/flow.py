"""How fast blood and the mitral annulus move through a beat, and what a reader would measure.

Velocities are positive towards the probe: inflow and back-flow into the ventricles seen from
the apex go up, outflow and the regurgitation of the atrioventricular valves go down. The jets
of leaking atrioventricular valves follow from pressures, v = sqrt(drop / 4).
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from tableside.errors import NotFound
from tableside.phantom.rhythm import HeartBeat
from tableside.phantom.types import Floats
from tableside.phantom.ventricle import smooth_step

FINE_S = 0.0005
AORTIC_PEAK_SHARE = 0.34  # of the ejection time
PULMONIC_PEAK_SHARE = 0.43
EARLY_RISE_S = 0.050
ANNULAR_RISE_S = 0.035


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """One flow: its direction on the screen, its usual peaks and what they are called."""

    sign: int
    peaks_m_s: tuple[float, ...]
    names: tuple[str, ...]
    continuous: bool = False
    tissue: bool = False
    both_sides: bool = False


FLOW_KINDS: Mapping[str, Flow] = {
    "mitral inflow": Flow(sign=1, peaks_m_s=(0.80, 0.58), names=("E", "A")),
    "mitral regurgitation": Flow(
        sign=-1, peaks_m_s=(5.6,), names=("MR_Vmax",), continuous=True
    ),
    "tricuspid inflow": Flow(sign=1, peaks_m_s=(0.62, 0.45), names=("TE", "TA")),
    "tricuspid regurgitation": Flow(
        sign=-1, peaks_m_s=(2.5,), names=("TR_Vmax",), continuous=True
    ),
    "aortic outflow": Flow(sign=-1, peaks_m_s=(1.25,), names=("AV_Vmax",)),
    "aortic regurgitation": Flow(
        sign=1, peaks_m_s=(4.6,), names=("AR_Vmax",), continuous=True
    ),
    "pulmonic outflow": Flow(sign=-1, peaks_m_s=(0.95,), names=("PV_Vmax",)),
    "pulmonic regurgitation": Flow(
        sign=1, peaks_m_s=(2.0, 1.1), names=("PR_Vmax", "PR_Vend"), continuous=True
    ),
    "mitral annulus septal": Flow(
        sign=1, peaks_m_s=(0.10, 0.085, 0.07), names=("S'", "E'", "A'"),
        tissue=True, both_sides=True,
    ),
    "mitral annulus lateral": Flow(
        sign=1, peaks_m_s=(0.13, 0.11, 0.08), names=("S'", "E'", "A'"),
        tissue=True, both_sides=True,
    ),
}  # fmt: skip


def flow_kind(name: str) -> Flow:
    """Return a flow by its name; the error lists the known ones."""
    if name not in FLOW_KINDS:
        raise NotFound(f"no flow {name!r}; there are {', '.join(FLOW_KINDS)}")
    return FLOW_KINDS[name]


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What shapes a flow besides its peaks.

    ``deceleration_s`` is the time from the early peak to zero; ``half_time_s`` the pressure
    half-time of aortic back-flow; ``atrial_mmHg`` the pressure behind a leaking valve.
    """

    peaks_m_s: tuple[float, ...]
    deceleration_s: float = 0.085
    half_time_s: float = 0.35
    atrial_mmHg: float = 12.0


def beat_velocity(name: str, time_s: Floats, beat: HeartBeat, course: Course) -> Floats:
    """Return the velocity of one beat in m/s, 0 where this beat has no flow."""
    shape = _SHAPES[name]
    return flow_kind(name).sign * shape(time_s, beat, course)


def beat_values(
    name: str, beat: HeartBeat, course: Course, cosine: float
) -> Mapping[str, float]:
    """Return what one beat shows along the beam, in the units of the catalogue."""
    time_s = np.arange(beat.onset_s - 0.03, beat.end_s + 0.12, FINE_S)
    speed = np.abs(beat_velocity(name, time_s, beat, course)) * cosine
    peaks = {
        key: peak * cosine
        for key, peak in zip(flow_kind(name).names, course.peaks_m_s, strict=True)
    }
    if not beat.atrial:
        peaks = {key: peak for key, peak in peaks.items() if key not in ("A", "TA", "A'")}
    return {**peaks, **_further_values(name, speed, beat, course)}


def jet_m_s(drop_mmHg: Floats) -> Floats:
    """Return the speed of a jet from its pressure drop (simplified Bernoulli equation)."""
    return np.sqrt(np.maximum(drop_mmHg, 0.0) / 4.0)


def _ejection(time_s: Floats, beat: HeartBeat, peak_share: float) -> Floats:
    x = (time_s - beat.ejection_s) / beat.ejection_time_s
    rise = np.sin(np.pi / 2 * np.clip(x / peak_share, 0, 1))
    fall = np.cos(np.pi / 2 * np.clip((x - peak_share) / (1 - peak_share), 0, 1))
    return np.where((x > 0) & (x < 1), rise * fall, 0.0)


def _aortic(time_s: Floats, beat: HeartBeat, course: Course) -> Floats:
    return course.peaks_m_s[0] * _ejection(time_s, beat, AORTIC_PEAK_SHARE)


def _pulmonic(time_s: Floats, beat: HeartBeat, course: Course) -> Floats:
    return course.peaks_m_s[0] * _ejection(time_s, beat, PULMONIC_PEAK_SHARE)


def _regurgitant(time_s: Floats, beat: HeartBeat, course: Course) -> Floats:
    """Return the jet that the pressures of ventricle and atrium drive."""
    grid = np.arange(beat.onset_s, beat.end_s, FINE_S)
    top = np.argmax(_ventricular_share(grid, beat))
    atrial = course.atrial_mmHg * (0.7 + 0.6 * smooth_step((grid - beat.ejection_s) / 0.2))
    peak_mmHg = 4 * course.peaks_m_s[0] ** 2 + atrial[top]
    drop = peak_mmHg * _ventricular_share(grid, beat) - atrial
    jet = jet_m_s(drop)
    jet *= course.peaks_m_s[0] / jet.max()
    return np.interp(time_s, grid, jet, left=0.0, right=0.0)


def _ventricular_share(time_s: Floats, beat: HeartBeat) -> Floats:
    """Pressure in the ventricle as a share of its peak."""
    up = smooth_step((time_s - beat.onset_s - 0.010) / 0.078)
    down = 1 / (1 + np.exp(np.clip((time_s - beat.closure_s - 0.004) / 0.011, -60, 60)))
    middle = beat.ejection_s + 0.45 * beat.ejection_time_s
    bump = 1 - 0.10 * ((time_s - middle) / beat.ejection_time_s) ** 2
    share = up * down * np.clip(bump, 0, None)
    return np.asarray(share / share.max())


def _inflow(time_s: Floats, beat: HeartBeat, course: Course) -> Floats:
    early_m_s, late_m_s = course.peaks_m_s
    early = early_m_s * _early(time_s - beat.filling_s, EARLY_RISE_S, course.deceleration_s)
    if not beat.atrial:
        return early
    return np.maximum(early, late_m_s * _hump(time_s, beat.kick_s, beat.end_s + 0.015))


def _early(time_s: Floats, rise_s: float, fall_s: float) -> Floats:
    rise = np.sin(np.pi / 2 * np.clip(time_s / rise_s, 0, 1))
    fall = np.clip(1 - (time_s - rise_s) / fall_s, 0, 1)
    return np.where(time_s < rise_s, rise, fall)


def _hump(time_s: Floats, start_s: float, stop_s: float) -> Floats:
    x = np.clip((time_s - start_s) / (stop_s - start_s), 0, 1)
    return np.asarray(np.sin(np.pi * x))


def _annulus(time_s: Floats, beat: HeartBeat, course: Course) -> Floats:
    systolic, early, late = course.peaks_m_s
    up = systolic * _ejection(time_s, beat, 0.32)
    up += 0.55 * systolic * _hump(time_s, beat.onset_s + 0.012, beat.ejection_s - 0.002)
    start_s = beat.filling_s - 0.01
    down = early * _early(time_s - start_s, ANNULAR_RISE_S, 0.6 * course.deceleration_s)
    if beat.atrial:
        late_wave = late * _hump(time_s, beat.kick_s - 0.005, beat.end_s + 0.005)
        down = np.maximum(down, late_wave)
    return up - down


def _pulmonic_back(time_s: Floats, beat: HeartBeat, course: Course) -> Floats:
    start, end = course.peaks_m_s
    open_s = beat.end_s + 0.045 - beat.closure_s
    x = (time_s - beat.closure_s) / open_s
    speed = start + (end - start) * np.clip((x - 0.06) / 0.86, 0, 1)
    return np.asarray(speed * _gate(x, 0.06, 0.92))


def _aortic_back(time_s: Floats, beat: HeartBeat, course: Course) -> Floats:
    open_s = beat.end_s + 0.05 - beat.closure_s
    x = (time_s - beat.closure_s) / open_s
    late_s = np.clip(time_s - beat.closure_s - 0.06 * open_s, 0, None)
    fall = 1 - (1 - np.sqrt(0.5)) * late_s / course.half_time_s
    return np.asarray(course.peaks_m_s[0] * np.clip(fall, 0, 1) * _gate(x, 0.06, 0.93))


def _gate(x: Floats, rise: float, fall: float) -> Floats:
    return np.asarray(
        np.sin(np.pi / 2 * np.clip(x / rise, 0, 1))
        * np.cos(np.pi / 2 * np.clip((x - fall) / (1 - fall), 0, 1))
    )


def _vti_cm(speed: Floats) -> float:
    return float(speed.sum() * FINE_S * 100)


def _outflow_values(
    name: str, speed: Floats, beat: HeartBeat, peak_share: float
) -> Mapping[str, float]:
    """Integral, mean gradient and times of an outflow."""
    return {
        f"{name}_VTI": _vti_cm(speed),
        f"{name}_MG": float(np.mean(4 * speed[speed > 0] ** 2)),
        "ET": beat.ejection_time_s * 1000,
        "AT": beat.ejection_time_s * peak_share * 1000,
        "PEP": (beat.ejection_s - beat.onset_s) * 1000,
    }


def _further_values(
    name: str, speed: Floats, beat: HeartBeat, course: Course
) -> Mapping[str, float]:
    """Return what is measured on a flow besides its peaks."""
    match name:
        case "mitral inflow":
            return {"DT": course.deceleration_s * 1000}
        case "mitral regurgitation":
            return {"MR_VTI": _vti_cm(speed)}
        case "aortic regurgitation":
            return {"AR_PHT": course.half_time_s * 1000}
        case "aortic outflow":
            return _outflow_values("AV", speed, beat, AORTIC_PEAK_SHARE)
        case "pulmonic outflow":
            return _outflow_values("PV", speed, beat, PULMONIC_PEAK_SHARE)
    return {}


_SHAPES: Mapping[str, Callable[[Floats, HeartBeat, Course], Floats]] = {
    "mitral inflow": _inflow,
    "mitral regurgitation": _regurgitant,
    "tricuspid inflow": _inflow,
    "tricuspid regurgitation": _regurgitant,
    "aortic outflow": _aortic,
    "aortic regurgitation": _aortic_back,
    "pulmonic outflow": _pulmonic,
    "pulmonic regurgitation": _pulmonic_back,
    "mitral annulus septal": _annulus,
    "mitral annulus lateral": _annulus,
}
