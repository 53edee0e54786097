"""M-modes with known edges: left ventricle, mitral valve, aorta and left atrium."""

from dataclasses import dataclass

import numpy as np

from tableside.phantom.mline import Layer, Mirror, draw_mline
from tableside.phantom.mmode_spec import (
    BeatTruth,
    MModePhantom,
    MModeSpec,
    beam_of,
    column_times,
    finish,
    mean_truth,
    r_columns,
    tracing_beats,
)
from tableside.phantom.mmode_tissue import (
    around_septum,
    breathing_cm,
    dropped,
    false_lines,
    flat,
    near_field,
    wall_fibres,
)
from tableside.phantom.rhythm import HeartBeat, complete_beats
from tableside.phantom.types import Floats
from tableside.phantom.ventricle import (
    FREE_WALL_LATE_S,
    SEPTAL_SHARE,
    SEPTUM_EARLY_S,
    Ventricle,
    canine_ventricle,
    contraction,
)

__all__ = ["BeatTruth", "MModePhantom", "MModeSpec", "left_ventricle"]

TRUTH_STEP_S = 0.0005
FLAT_SHARE = 1e-3  # of the diameter: what counts as the same minimum


@dataclass(frozen=True, slots=True)
class Walls:
    """Depths in cm of the four interfaces, from the skin."""

    septum_right: Floats
    septum_left: Floats
    endocardium: Floats
    epicardium: Floats

    def sizes(self) -> tuple[Floats, Floats, Floats]:
        """Septum, cavity and free wall along the beam."""
        return (
            self.septum_left - self.septum_right,
            self.endocardium - self.septum_left,
            self.epicardium - self.endocardium,
        )


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
    walls = _walls(time_s, beats, heart, spec, breath_cm)
    right_cm = walls.septum_right - _right_cavity(heart, time_s, beats)
    depth_cm = 1.22 * float(walls.epicardium.max())
    beam = beam_of(spec, depth_cm)
    layers, mirrors = _anatomy(walls, right_cm, heart, spec, rng)
    level = draw_mline(layers, mirrors, beam, rng)
    found = tuple(
        (beat, _beat_truth(beat, beats, heart, spec))
        for beat in complete_beats(beats, (spec.columns - 1) * spec.s_per_column)
    )
    edges_cm = {
        "right ventricular wall": right_cm,
        "septum right": walls.septum_right,
        "septum left": walls.septum_left,
        "wall endocardium": walls.endocardium,
        "wall epicardium": walls.epicardium,
    }
    return MModePhantom(
        pixels=finish(level, spec, beats, rng),
        cm_per_row=beam.cm_per_row,
        s_per_column=spec.s_per_column,
        skin_row=spec.skin_row,
        edges_row={
            name: spec.skin_row + edge / beam.cm_per_row for name, edge in edges_cm.items()
        },
        r_columns=r_columns(beats, spec.columns, spec.s_per_column),
        beats=tuple(truth for _, truth in found),
        truth=mean_truth(found),
    )


def _walls(
    time_s: Floats,
    beats: tuple[HeartBeat, ...],
    heart: Ventricle,
    spec: MModeSpec,
    breath_cm: Floats,
) -> Walls:
    """Depths of the interfaces: the septum goes a little before the free wall."""
    septal = contraction(time_s + SEPTUM_EARLY_S, beats)
    free = contraction(time_s - FREE_WALL_LATE_S, beats)
    slant = 1 / np.cos(np.radians(spec.off_axis_deg))
    septal_gain = SEPTAL_SHARE * (heart.cavity_cm - heart.cavity_at(septal))
    free_gain = (1 - SEPTAL_SHARE) * (heart.cavity_cm - heart.cavity_at(free))
    left = heart.septum_cm + septal_gain
    endocardium = heart.septum_cm + heart.cavity_cm - free_gain
    start = (1.15 + 0.95) * spec.size + breath_cm
    return Walls(
        septum_right=start + slant * (left - heart.septum_at(septal)),
        septum_left=start + slant * left,
        endocardium=start + slant * endocardium,
        epicardium=start + slant * (endocardium + heart.wall_at(free)),
    )


def _right_cavity(heart: Ventricle, time_s: Floats, beats: tuple[HeartBeat, ...]) -> Floats:
    """Width of the right ventricle in front of the septum."""
    return np.asarray(0.26 * heart.cavity_cm * (1 - 0.25 * contraction(time_s, beats)))


def _anatomy(
    walls: Walls, right_cm: Floats, heart: Ventricle, spec: MModeSpec, rng: np.random.Generator
) -> tuple[list[Layer], list[Mirror]]:
    layers, mirrors = near_field(right_cm, heart, spec, rng)
    layers += [
        Layer(
            top_cm=right_cm,
            bottom_cm=walls.septum_right,
            level_db=flat(-34, spec),
            memory_s=0.004,
        ),
        Layer(top_cm=walls.septum_right, bottom_cm=walls.septum_left, level_db=flat(0, spec)),
        Layer(
            top_cm=walls.septum_left,
            bottom_cm=walls.endocardium,
            level_db=flat(-36, spec),
            memory_s=0.004,
        ),
        Layer(top_cm=walls.endocardium, bottom_cm=walls.epicardium, level_db=flat(0, spec)),
        Layer(
            top_cm=walls.epicardium,
            bottom_cm=walls.epicardium + 0.13 * spec.size,
            level_db=flat(9, spec),
            memory_s=0.25,
        ),
        Layer(
            top_cm=walls.epicardium + 0.13 * spec.size,
            bottom_cm=walls.epicardium + 8,
            level_db=flat(-1, spec),
            memory_s=0.3,
            fade_db_per_cm=11.0,
        ),
    ]
    mirrors += [
        Mirror(depth_cm=walls.septum_right, level_db=dropped(8, spec, rng)),
        Mirror(depth_cm=walls.septum_left, level_db=dropped(6, spec, rng)),
        Mirror(depth_cm=walls.endocardium, level_db=dropped(8, spec, rng)),
        Mirror(depth_cm=walls.epicardium, level_db=dropped(16, spec, rng)),
    ]
    mirrors += wall_fibres(walls.septum_right, walls.septum_left, spec, rng)
    mirrors += wall_fibres(walls.endocardium, walls.epicardium, spec, rng)
    more_layers, more_mirrors = false_lines(walls.endocardium, walls.septum_left, spec, rng)
    return layers + more_layers, mirrors + more_mirrors + around_septum(
        walls.septum_right, spec, rng
    )


def _beat_truth(
    beat: HeartBeat, beats: tuple[HeartBeat, ...], heart: Ventricle, spec: MModeSpec
) -> BeatTruth:
    """Sizes at the onset of the QRS and where the cavity is smallest."""
    time_s = np.arange(beat.onset_s, beat.filling_s + 0.03, TRUTH_STEP_S)
    still = np.zeros_like(time_s)
    septum, cavity, wall = _walls(time_s, beats, heart, spec, still).sizes()
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
