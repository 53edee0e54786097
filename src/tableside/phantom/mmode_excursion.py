"""An M-mode from the apex through a valve's annulus: how far it travels to the probe."""

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
    blood,
    breathing_cm,
    dropped,
    episodes,
    flat,
    muscle,
    near_field,
    wall_fibres,
)
from tableside.phantom.mmode_walls import CHEST_CM
from tableside.phantom.rhythm import HeartBeat
from tableside.phantom.types import Floats
from tableside.phantom.ventricle import Ventricle, canine_ventricle, contraction

# Excursion in a dog of 10 kg, and depth of the annulus below the apex, cm. Source: memory.
ANNULI = {"TAPSE": (1.25, 4.1), "MAPSE": (0.85, 4.9)}
BAND_CM = 0.20  # the annulus with its fat, in a dog of 10 kg
ATRIUM_CM = 2.0  # annulus to the roof of the atrium
STEP_S = 0.0005


@dataclass(frozen=True, slots=True)
class Annulus:
    """Depths in cm along the line."""

    apex: Floats
    near: Floats
    roof: Floats


def annular_excursion(spec: MModeSpec, seed: int, quantity: str = "TAPSE") -> MModePhantom:
    """Return an M-mode through the tricuspid (TAPSE) or mitral annulus (MAPSE).

    Parameters
    ----------
    spec : MModeSpec
        ``excursion_cm`` None gives a normal one for the weight. ``chorda`` puts a second,
        fainter line in front of the annulus.
    seed : int
    quantity : str
        ``TAPSE`` or ``MAPSE``.

    Notes
    -----
    The truth is the depth of the annulus at the onset of the QRS less its smallest depth in
    the same beat. Edges: ``annulus``.
    """
    rng = np.random.default_rng(seed)
    beats = tracing_beats(spec.columns, spec.s_per_column, spec.heart_rate, spec.rhythm, rng)
    time_s = column_times(spec.columns, spec.s_per_column)
    line = _annulus(time_s, beats, spec, (quantity, breathing_cm(time_s, spec, rng)))
    heart = canine_ventricle(spec.weight_kg, spec.fractional_shortening, 1.0, spec.wall)
    beam = beam_of(spec, 1.15 * float(line.roof.max()))
    layers, mirrors = _anatomy(line, heart, spec, rng)
    level = draw_mline(layers, mirrors, beam, rng)
    drawn = Tracing(level, beam, beats, {"annulus": line.near})
    return stored(drawn, spec, lambda beat: _beat_truth(beat, beats, spec, quantity), rng)


def _annulus(
    time_s: Floats,
    beats: tuple[HeartBeat, ...],
    spec: MModeSpec,
    given: tuple[str, Floats],
) -> Annulus:
    """Draw the base of the heart to the apex in systole; the apex hardly moves."""
    quantity, breath_cm = given
    usual_cm, depth_cm = ANNULI[quantity]
    excursion_cm = usual_cm * spec.size if spec.excursion_cm is None else spec.excursion_cm
    full = contraction(time_s, beats)
    slant = np.cos(np.radians(spec.off_axis_deg))
    travel = excursion_cm * full * slant
    apex = CHEST_CM * spec.size + breath_cm
    near = apex + depth_cm * spec.size * spec.enlargement - travel
    roof = near + ATRIUM_CM * spec.size * (0.8 + 0.2 * full) + 0.35 * travel
    return Annulus(apex, near, roof)


def _anatomy(
    line: Annulus, heart: Ventricle, spec: MModeSpec, rng: np.random.Generator
) -> tuple[list[Layer], list[Mirror]]:
    layers, mirrors = near_field(line.apex, heart, spec, rng)
    band_cm = BAND_CM * spec.size
    wall_top = line.apex + rng.uniform(0.2, 0.6) * (line.near - line.apex)
    layers += [
        blood(line.apex, wall_top, spec),
        muscle(wall_top, line.near, spec),
        Layer(
            top_cm=line.near,
            bottom_cm=line.near + band_cm,
            level_db=flat(5, spec) - 18 * episodes(spec.dropout, 0.12, spec, rng),
            memory_s=0.15,
        ),
        blood(line.near + band_cm, line.roof, spec),
        muscle(line.roof, line.roof + 0.2 * spec.size, spec),
    ]
    mirrors += [
        Mirror(depth_cm=wall_top, level_db=dropped(1, spec, rng)),
        Mirror(depth_cm=line.near, level_db=dropped(15, spec, rng)),
        Mirror(depth_cm=line.near + band_cm, level_db=dropped(6, spec, rng)),
        Mirror(depth_cm=line.roof, level_db=dropped(10, spec, rng)),
    ]
    mirrors += wall_fibres(wall_top, line.near, spec, rng)
    if spec.chorda:
        before = line.near - 0.45 * spec.size
        mirrors.append(Mirror(depth_cm=before, level_db=dropped(8, spec, rng)))
    return layers, mirrors


def _beat_truth(
    beat: HeartBeat, beats: tuple[HeartBeat, ...], spec: MModeSpec, quantity: str
) -> BeatTruth:
    time_s = np.arange(beat.onset_s, beat.filling_s + 0.03, STEP_S)
    near = _annulus(time_s, beats, spec, (quantity, np.zeros_like(time_s))).near
    s = int(np.argmin(near))
    return BeatTruth(
        r_column=beat.r_s / spec.s_per_column,
        d_column=beat.onset_s / spec.s_per_column,
        s_column=float(time_s[s]) / spec.s_per_column,
        values={quantity: float(near[0] - near[s])},
    )
