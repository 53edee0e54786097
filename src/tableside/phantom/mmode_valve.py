"""An M-mode through the tips of the mitral valve, with a known gap to the septum."""

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
    flat,
    muscle,
    near_field,
    wall_fibres,
)
from tableside.phantom.mmode_walls import Walls, right_cavity_cm, wall_depths
from tableside.phantom.rhythm import HeartBeat
from tableside.phantom.types import Floats
from tableside.phantom.ventricle import Ventricle, canine_ventricle, smooth_step

NORMAL_GAP = 0.09  # of the diameter
CLOSED_SHARE = 0.60  # of the cavity, counted from the septum
HALF_SHUT = 0.30  # opening in mid-diastole
LATE_OPENING = 0.68
OPENING_S = 0.045
LEAFLET_CM = 0.10
STEP_S = 0.0005


@dataclass(frozen=True, slots=True)
class Leaflets:
    """Depths of the surfaces nearer to the probe, in cm."""

    anterior: Floats
    posterior: Floats


def mitral_valve(spec: MModeSpec, seed: int) -> MModePhantom:
    """Return an M-mode through the tips of the mitral leaflets.

    The truth is EPSS, the gap between the left side of the septum and the anterior leaflet
    where it opens widest in early diastole. Edges: ``septum right``, ``septum left``,
    ``anterior mitral leaflet``, ``posterior mitral leaflet``, ``wall endocardium`` and
    ``wall epicardium``.
    """
    rng = np.random.default_rng(seed)
    beats = tracing_beats(spec.columns, spec.s_per_column, spec.heart_rate, spec.rhythm, rng)
    heart = canine_ventricle(
        spec.weight_kg, spec.fractional_shortening, spec.enlargement, spec.wall
    )
    time_s = column_times(spec.columns, spec.s_per_column)
    breath_cm = breathing_cm(time_s, spec, rng)
    walls = wall_depths(time_s, beats, heart, spec, breath_cm)
    leaflets = _leaflets(time_s, beats, walls, gap_cm(spec, heart))
    right_cm = walls.septum_right - right_cavity_cm(heart, time_s, beats)
    beam = beam_of(spec, 1.22 * float(walls.epicardium.max()))
    layers, mirrors = _anatomy((walls, leaflets), right_cm, heart, spec, rng)
    level = draw_mline(layers, mirrors, beam, rng)
    edges_cm = {
        "septum right": walls.septum_right,
        "septum left": walls.septum_left,
        "anterior mitral leaflet": leaflets.anterior,
        "posterior mitral leaflet": leaflets.posterior,
        "wall endocardium": walls.endocardium,
        "wall epicardium": walls.epicardium,
    }
    drawn = Tracing(level, beam, beats, edges_cm)
    return stored(drawn, spec, lambda beat: _beat_truth(beat, beats, heart, spec), rng)


def _anatomy(
    surfaces: tuple[Walls, Leaflets],
    right_cm: Floats,
    heart: Ventricle,
    spec: MModeSpec,
    rng: np.random.Generator,
) -> tuple[list[Layer], list[Mirror]]:
    walls, leaflets = surfaces
    layers, mirrors = near_field(right_cm, heart, spec, rng)
    layers += [
        blood(right_cm, walls.septum_right, spec),
        muscle(walls.septum_right, walls.septum_left, spec),
        blood(walls.septum_left, walls.endocardium, spec),
        muscle(walls.endocardium, walls.epicardium, spec),
        *behind(walls.epicardium, spec),
        *_leaflet_layers(leaflets, spec),
    ]
    mirrors += [
        Mirror(depth_cm=walls.septum_right, level_db=dropped(8, spec, rng)),
        Mirror(depth_cm=walls.septum_left, level_db=dropped(7, spec, rng)),
        Mirror(depth_cm=walls.endocardium, level_db=dropped(7, spec, rng)),
        Mirror(depth_cm=walls.epicardium, level_db=dropped(17, spec, rng)),
        Mirror(depth_cm=leaflets.anterior, level_db=dropped(11, spec, rng)),
        Mirror(depth_cm=leaflets.posterior, level_db=dropped(8, spec, rng)),
    ]
    mirrors += wall_fibres(walls.septum_right, walls.septum_left, spec, rng)
    mirrors += wall_fibres(walls.endocardium, walls.epicardium, spec, rng)
    return layers, mirrors


def gap_cm(spec: MModeSpec, heart: Ventricle) -> float:
    """Return the gap that the spec asks for, or a normal one."""
    return NORMAL_GAP * heart.cavity_cm if spec.epss_cm is None else spec.epss_cm


def _leaflets(
    time_s: Floats, beats: tuple[HeartBeat, ...], walls: Walls, gap: float
) -> Leaflets:
    """Close the leaflets on a common line in systole, part them in diastole."""
    opening = np.zeros_like(time_s)
    for beat in beats:
        opening = np.maximum(opening, _opening(time_s, beat))
    _, cavity, _ = walls.sizes()
    closed = walls.septum_left + CLOSED_SHARE * cavity
    anterior = closed + opening * (walls.septum_left + gap - closed)
    posterior = closed + opening * 0.62 * (walls.endocardium - closed) + 0.02
    return Leaflets(anterior, posterior)


def _opening(time_s: Floats, beat: HeartBeat) -> Floats:
    """How far the valve is open in one beat: 1 at the E point, a second top with the atrium."""
    top_s = beat.filling_s + OPENING_S
    rise = smooth_step((time_s - beat.filling_s) / OPENING_S)
    half_s = 0.045 + 0.25 * max(0.0, beat.filling_time_s - 0.2)
    early = rise * (1 - (1 - HALF_SHUT) * smooth_step((time_s - top_s) / (1.6 * half_s)))
    shut = 1 - smooth_step((time_s - beat.end_s + 0.012) / 0.045)
    if beat.atrial:
        middle_s = beat.kick_s + 0.5 * (beat.end_s - beat.kick_s)
        late = np.exp(-0.5 * ((time_s - middle_s) / 0.020) ** 2)
        early = np.maximum(early, LATE_OPENING * late * (time_s > top_s))
    return np.asarray(early * shut)


def _leaflet_layers(leaflets: Leaflets, spec: MModeSpec) -> list[Layer]:
    thick_cm = LEAFLET_CM * spec.size
    return [
        Layer(top_cm=top, bottom_cm=top + thick_cm, level_db=flat(level_db, spec),
              memory_s=0.02)
        for top, level_db in ((leaflets.posterior, -6), (leaflets.anterior, 0))
    ]  # fmt: skip


def _beat_truth(
    beat: HeartBeat, beats: tuple[HeartBeat, ...], heart: Ventricle, spec: MModeSpec
) -> BeatTruth:
    time_s = np.arange(beat.filling_s, beat.filling_s + 2.2 * OPENING_S, STEP_S)
    walls = wall_depths(time_s, beats, heart, spec, np.zeros_like(time_s))
    leaflets = _leaflets(time_s, beats, walls, gap_cm(spec, heart))
    gap = leaflets.anterior - walls.septum_left
    s = int(np.argmin(gap))
    return BeatTruth(
        r_column=beat.r_s / spec.s_per_column,
        d_column=float(time_s[s]) / spec.s_per_column,
        s_column=beat.closure_s / spec.s_per_column,
        values={"EPSS": float(gap[s])},
    )
