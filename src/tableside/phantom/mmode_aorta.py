"""An M-mode through the aortic root and the left atrium behind it."""

from dataclasses import dataclass

import numpy as np

from tableside.phantom.mline import Layer, Mirror, draw_mline
from tableside.phantom.mmode_spec import (
    BeatTruth,
    MModePhantom,
    MModeSpec,
    Tracing,
    beam_of,
    column_times,
    stored,
    tracing_beats,
)
from tableside.phantom.mmode_tissue import (
    behind,
    blood,
    breathing_cm,
    dropped,
    muscle,
    near_field,
    wall_fibres,
)
from tableside.phantom.mmode_walls import CHEST_CM
from tableside.phantom.rhythm import HeartBeat
from tableside.phantom.types import Floats
from tableside.phantom.ventricle import Ventricle, canine_ventricle, contraction, smooth_step

OUTFLOW_CM = 0.75  # right ventricular outflow in front of the aorta, in a dog of 10 kg
ROOT_TRAVEL = 0.26  # of the aortic diameter, towards the probe in systole
ATRIAL_CHANGE = 0.20  # of the atrium's largest diameter
WALL_CM = 0.16
STEP_S = 0.0005


@dataclass(frozen=True, slots=True)
class Root:
    """Depths in cm; walls are given by the surface nearer to the probe."""

    anterior: Floats
    posterior: Floats
    atrial: Floats
    wall_cm: float


def aorta_diameter_cm(weight_kg: float) -> float:
    """Return the normal aortic root of a dog at end diastole.

    Source: Cornell 2004, constants fitted to the rounded textbook table (0.78 kg^0.341 cm).
    """
    return float(0.78 * weight_kg**0.341)


def aorta_left_atrium(spec: MModeSpec, seed: int) -> MModePhantom:
    """Return an M-mode through aortic root and left atrium.

    The truth is Ao at the onset of the QRS, LA at its largest (both from leading edge to
    leading edge), and ET from the opening of the cusps to their closure. Edges: ``aorta
    anterior``, ``aorta posterior``, ``left atrial wall``.
    """
    rng = np.random.default_rng(seed)
    beats = tracing_beats(spec.columns, spec.s_per_column, spec.heart_rate, spec.rhythm, rng)
    time_s = column_times(spec.columns, spec.s_per_column)
    root = _root(time_s, beats, spec, breathing_cm(time_s, spec, rng))
    heart = canine_ventricle(spec.weight_kg, spec.fractional_shortening, 1.0, spec.wall)
    right_cm = root.anterior - OUTFLOW_CM * spec.size * (1 - 0.15 * contraction(time_s, beats))
    beam = beam_of(spec, 1.25 * float(root.atrial.max()))
    layers, mirrors = _anatomy(root, right_cm, heart, spec, rng)
    mirrors += _cusps(time_s, beats, root, spec, rng)
    level = draw_mline(layers, mirrors, beam, rng)
    edges_cm = {
        "aorta anterior": root.anterior,
        "aorta posterior": root.posterior,
        "left atrial wall": root.atrial,
    }
    drawn = Tracing(level, beam, beats, edges_cm)
    return stored(drawn, spec, lambda beat: _beat_truth(beat, beats, spec), rng)


def _anatomy(
    root: Root, right_cm: Floats, heart: Ventricle, spec: MModeSpec, rng: np.random.Generator
) -> tuple[list[Layer], list[Mirror]]:
    layers, mirrors = near_field(right_cm, heart, spec, rng)
    back = root.atrial + WALL_CM * spec.size
    layers += [
        blood(right_cm, root.anterior, spec),
        muscle(root.anterior, root.anterior + root.wall_cm, spec),
        blood(root.anterior + root.wall_cm, root.posterior, spec),
        muscle(root.posterior, root.posterior + root.wall_cm, spec),
        blood(root.posterior + root.wall_cm, root.atrial, spec),
        muscle(root.atrial, back, spec),
        *behind(back, spec),
    ]
    mirrors += [
        Mirror(depth_cm=root.anterior, level_db=dropped(10, spec, rng)),
        Mirror(depth_cm=root.anterior + root.wall_cm, level_db=dropped(8, spec, rng)),
        Mirror(depth_cm=root.posterior, level_db=dropped(10, spec, rng)),
        Mirror(depth_cm=root.posterior + root.wall_cm, level_db=dropped(8, spec, rng)),
        Mirror(depth_cm=root.atrial, level_db=dropped(9, spec, rng)),
        Mirror(depth_cm=back, level_db=dropped(16, spec, rng)),
    ]
    mirrors += wall_fibres(root.atrial, back, spec, rng)
    return layers, mirrors


def _root(
    time_s: Floats, beats: tuple[HeartBeat, ...], spec: MModeSpec, breath_cm: Floats
) -> Root:
    """Move the root towards the probe as the atrium behind it fills."""
    aorta_cm = aorta_diameter_cm(spec.weight_kg)
    atrium_cm = spec.left_atrium_to_aorta * aorta_cm
    full = contraction(time_s, beats)
    start = (CHEST_CM + OUTFLOW_CM + 0.30) * spec.size + breath_cm
    travel = ROOT_TRAVEL * aorta_cm * full
    anterior = start - travel
    posterior = anterior + aorta_cm * (1 + 0.04 * full)
    atrial = posterior + atrium_cm * (1 - ATRIAL_CHANGE * (1 - full))
    return Root(anterior, posterior, atrial, 0.11 * spec.size)


def _cusps(
    time_s: Floats,
    beats: tuple[HeartBeat, ...],
    root: Root,
    spec: MModeSpec,
    rng: np.random.Generator,
) -> list[Mirror]:
    """One line in the middle in diastole, a box along the walls in systole."""
    opening = np.zeros_like(time_s)
    for beat in beats:
        up = smooth_step((time_s - beat.ejection_s) / 0.014)
        down = smooth_step((time_s - beat.closure_s + 0.014) / 0.014)
        opening = np.maximum(opening, up * (1 - down))
    inner = root.anterior + root.wall_cm
    middle = (inner + root.posterior) / 2
    reach = 0.40 * (root.posterior - inner) * opening
    moving = np.where((opening > 0.02) & (opening < 0.98), -6.0, 0.0)
    return [
        Mirror(depth_cm=middle + side * reach, level_db=dropped(level, spec, rng) + moving)
        for side, level in ((-1, 5), (1, 4))
    ]


def _beat_truth(beat: HeartBeat, beats: tuple[HeartBeat, ...], spec: MModeSpec) -> BeatTruth:
    time_s = np.arange(beat.onset_s, beat.filling_s + 0.03, STEP_S)
    root = _root(time_s, beats, spec, np.zeros_like(time_s))
    atrium = root.atrial - root.posterior
    s = int(np.argmax(atrium))
    values = {
        "Ao": float(root.posterior[0] - root.anterior[0]),
        "LA": float(atrium[s]),
        "ET": beat.ejection_time_s * 1000,
    }
    return BeatTruth(
        r_column=beat.r_s / spec.s_per_column,
        d_column=beat.onset_s / spec.s_per_column,
        s_column=float(time_s[s]) / spec.s_per_column,
        values=values,
    )
