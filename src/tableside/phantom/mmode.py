"""M-modes with known edges: ventricle, mitral valve, aorta and left atrium, annuli."""

import numpy as np

from tableside.phantom.mline import Layer, Mirror, draw_mline
from tableside.phantom.mmode_aorta import aorta_left_atrium
from tableside.phantom.mmode_excursion import annular_excursion
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
    around_septum,
    behind,
    blood,
    breathing_cm,
    dropped,
    false_lines,
    muscle,
    near_field,
    wall_fibres,
)
from tableside.phantom.mmode_valve import mitral_valve
from tableside.phantom.mmode_walls import Walls, right_cavity_cm, wall_depths
from tableside.phantom.rhythm import HeartBeat
from tableside.phantom.types import Floats
from tableside.phantom.ventricle import (
    Ventricle,
    canine_ventricle,
)

__all__ = [
    "BeatTruth",
    "MModePhantom",
    "MModeSpec",
    "annular_excursion",
    "aorta_left_atrium",
    "left_ventricle",
    "mitral_valve",
]

TRUTH_STEP_S = 0.0005
FLAT_SHARE = 1e-3  # of the diameter: what counts as the same minimum


def left_ventricle(spec: MModeSpec, seed: int) -> MModePhantom:
    """Return an M-mode through the left ventricle at the level of the chordae.

    Parameters
    ----------
    spec : MModeSpec
    seed : int
        The same spec and seed give the same pixels.

    Returns
    -------
    MModePhantom
        With the edges ``right ventricular wall``, ``septum right``, ``septum left``,
        ``wall endocardium`` and ``wall epicardium``, and the truth of IVSd, IVSs, LVIDd,
        LVIDs, LVPWd and LVPWs.
    """
    rng = np.random.default_rng(seed)
    beats = tracing_beats(spec.columns, spec.s_per_column, spec.heart_rate, spec.rhythm, rng)
    heart = canine_ventricle(
        spec.weight_kg, spec.fractional_shortening, spec.enlargement, spec.wall
    )
    time_s = column_times(spec.columns, spec.s_per_column)
    breath_cm = breathing_cm(time_s, spec, rng)
    walls = wall_depths(time_s, beats, heart, spec, breath_cm)
    right_cm = walls.septum_right - right_cavity_cm(heart, time_s, beats)
    depth_cm = 1.22 * float(walls.epicardium.max())
    beam = beam_of(spec, depth_cm)
    layers, mirrors = _anatomy(walls, right_cm, heart, spec, rng)
    level = draw_mline(layers, mirrors, beam, rng)
    edges_cm = {
        "right ventricular wall": right_cm,
        "septum right": walls.septum_right,
        "septum left": walls.septum_left,
        "wall endocardium": walls.endocardium,
        "wall epicardium": walls.epicardium,
    }
    drawn = Tracing(level, beam, beats, edges_cm)
    return stored(drawn, spec, lambda beat: _beat_truth(beat, beats, heart, spec), rng)


def _anatomy(
    walls: Walls, right_cm: Floats, heart: Ventricle, spec: MModeSpec, rng: np.random.Generator
) -> tuple[list[Layer], list[Mirror]]:
    layers, mirrors = near_field(right_cm, heart, spec, rng)
    layers += [
        blood(right_cm, walls.septum_right, spec),
        muscle(walls.septum_right, walls.septum_left, spec),
        blood(walls.septum_left, walls.endocardium, spec),
        muscle(walls.endocardium, walls.epicardium, spec),
        *behind(walls.epicardium, spec),
    ]
    mirrors += [
        Mirror(depth_cm=walls.septum_right, level_db=dropped(8, spec, rng)),
        Mirror(depth_cm=walls.septum_left, level_db=dropped(7, spec, rng)),
        Mirror(depth_cm=walls.endocardium, level_db=dropped(7, spec, rng)),
        Mirror(depth_cm=walls.epicardium, level_db=dropped(17, spec, rng)),
    ]
    mirrors += wall_fibres(walls.septum_right, walls.septum_left, spec, rng)
    mirrors += wall_fibres(walls.endocardium, walls.epicardium, spec, rng)
    more_layers, more_mirrors = false_lines(walls.endocardium, walls.septum_left, spec, rng)
    mirrors += around_septum(walls.septum_right, spec, rng)
    return layers + more_layers, mirrors + more_mirrors


def _beat_truth(
    beat: HeartBeat, beats: tuple[HeartBeat, ...], heart: Ventricle, spec: MModeSpec
) -> BeatTruth:
    """Sizes at the onset of the QRS and where the cavity is smallest."""
    time_s = np.arange(beat.onset_s, beat.filling_s + 0.03, TRUTH_STEP_S)
    still = np.zeros_like(time_s)
    septum, cavity, wall = wall_depths(time_s, beats, heart, spec, still).sizes()
    smallest = np.flatnonzero(cavity <= cavity.min() + FLAT_SHARE * heart.cavity_cm)
    s = int(smallest[len(smallest) // 2])
    names = {"IVS": septum, "LVID": cavity, "LVPW": wall}
    values = {
        f"{name}{phase}": float(size[at])
        for phase, at in (("d", 0), ("s", s))
        for name, size in names.items()
    }
    return BeatTruth(
        r_column=beat.r_s / spec.s_per_column,
        d_column=beat.onset_s / spec.s_per_column,
        s_column=float(time_s[s]) / spec.s_per_column,
        values=values,
    )
