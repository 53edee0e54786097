"""What lies around the walls on an M-mode: chest wall, false lines, fibres, breathing."""

import numpy as np

from tableside.phantom.mline import NOWHERE_DB, Layer, Mirror
from tableside.phantom.mmode_spec import MModeSpec
from tableside.phantom.speckle import slow_db
from tableside.phantom.types import Floats
from tableside.phantom.ventricle import Ventricle

DROPOUT_S = 0.12  # how long an interface stays unseen
DROPOUT_DB = -24.0
BLOOD_DB = -36.0
MUSCLE_DB = -3.0
STILL_S = 0.25  # how long the grain of muscle lasts at rest
MIXING_CM = 0.10  # of motion, after which it is another


def flat(level_db: float, spec: MModeSpec) -> Floats:
    """Return one level for every column."""
    return np.full(spec.columns, float(level_db))


def breathing_cm(time_s: Floats, spec: MModeSpec, rng: np.random.Generator) -> Floats:
    """Return the shift of the whole heart with breathing, peak to peak as the spec says."""
    rate_hz = rng.uniform(0.3, 0.5)
    phase = rng.uniform()
    return np.asarray(spec.respiration_mm / 20 * np.sin(2 * np.pi * (rate_hz * time_s + phase)))


def episodes(
    share: float, memory_s: float, spec: MModeSpec, rng: np.random.Generator
) -> Floats:
    """Return 0 to 1, near 1 in about ``share`` of the time, in smooth episodes."""
    if share <= 0:
        return np.zeros(spec.columns)
    wander = slow_db(spec.columns, memory_s / spec.s_per_column, rng)
    edge = np.quantile(wander, 1 - min(share, 1.0))
    return np.asarray(np.clip(0.5 + 4 * (wander - edge), 0, 1))


def dropped(level_db: float, spec: MModeSpec, rng: np.random.Generator) -> Floats:
    """Return the level of an interface that is at times not seen."""
    return np.asarray(level_db + DROPOUT_DB * episodes(spec.dropout, DROPOUT_S, spec, rng))


def blood(top_cm: Floats, bottom_cm: Floats, spec: MModeSpec) -> Layer:
    """Return a cavity: dark, and with new grain in every line."""
    return Layer(
        top_cm=top_cm,
        bottom_cm=bottom_cm,
        level_db=flat(BLOOD_DB, spec),
        memory_s=0.006,
        texture_db=3.0,
    )


def muscle(top_cm: Floats, bottom_cm: Floats, spec: MModeSpec) -> Layer:
    """Return a wall. Its grain lasts while it is still and is lost while it thickens.

    Thickening and turning bring other muscle into the beam.
    """
    speed = np.abs(np.gradient(bottom_cm - top_cm, spec.s_per_column))
    speed += 0.2 * np.abs(np.gradient(bottom_cm + top_cm, spec.s_per_column))
    return Layer(
        top_cm=top_cm,
        bottom_cm=bottom_cm,
        level_db=flat(MUSCLE_DB, spec),
        memory_s=1 / (1 / STILL_S + speed / MIXING_CM),
        texture_db=3.5,
    )


def behind(surface_cm: Floats, spec: MModeSpec) -> list[Layer]:
    """Return the pericardium and what fades behind it, the lung."""
    thick_cm = 0.11 * spec.size
    lung = surface_cm + thick_cm
    return [
        Layer(top_cm=surface_cm, bottom_cm=lung, level_db=flat(9, spec), memory_s=0.2),
        Layer(top_cm=lung, bottom_cm=flat(lung.max() + 9, spec), level_db=flat(-5, spec),
              memory_s=0.05,
              fade_db_per_cm=8.0 / spec.size, texture_db=4.0),
    ]  # fmt: skip


def near_field(
    right_cm: Floats, heart: Ventricle, spec: MModeSpec, rng: np.random.Generator
) -> tuple[list[Layer], list[Mirror]]:
    """Chest wall with its still lines, and the free wall of the right ventricle."""
    wall_cm = 0.38 * heart.wall_cm
    epicardium = right_cm - wall_cm
    skin = np.zeros(spec.columns)
    layers = [
        Layer(
            top_cm=skin,
            bottom_cm=flat(epicardium.max(), spec),
            level_db=flat(-4, spec),
            memory_s=0.9,
            fade_db_per_cm=9.0 / spec.size,
            texture_db=6.0,
        ),
    ]
    mirrors = [
        Mirror(depth_cm=flat(share * spec.size, spec), level_db=flat(level, spec))
        for share, level in ((0.05, 18), (0.14, 12), (0.30, 6), (0.46, 4), (0.7, 2))
    ]
    if spec.right_ventricular_wall:
        layers.append(muscle(epicardium, right_cm, spec))
        mirrors += [
            Mirror(depth_cm=epicardium, level_db=dropped(7, spec, rng)),
            Mirror(depth_cm=right_cm, level_db=dropped(4, spec, rng)),
        ]
    return layers, mirrors


def wall_fibres(
    top_cm: Floats, bottom_cm: Floats, spec: MModeSpec, rng: np.random.Generator
) -> list[Mirror]:
    """Weak surfaces inside a wall, which give it streaks that move with it."""
    places = np.sort(rng.uniform(0.12, 0.9, 6))
    return [
        Mirror(
            depth_cm=top_cm + place * (bottom_cm - top_cm),
            level_db=rng.uniform(-4, 4)
            + 3 * slow_db(spec.columns, 0.1 / spec.s_per_column, rng),
        )
        for place in places
    ]


def false_lines(
    endocardium: Floats, septum_left: Floats, spec: MModeSpec, rng: np.random.Generator
) -> tuple[list[Layer], list[Mirror]]:
    """Chordae and a papillary muscle in front of the free wall."""
    layers: list[Layer] = []
    mirrors: list[Mirror] = []
    room_cm = endocardium - septum_left
    if spec.chorda:
        gap_cm = rng.uniform(0.14, 0.24) * spec.size + 0.10 * (room_cm - room_cm.min())
        seen = episodes(0.55, 0.2, spec, rng)
        level = np.where(seen > 0.05, 5 - 14 * (1 - seen), NOWHERE_DB)
        mirrors.append(Mirror(depth_cm=endocardium - gap_cm, level_db=level))
    if spec.papillary:
        thick_cm = rng.uniform(0.16, 0.28) * spec.size
        gap_cm = 0.09 * spec.size
        seen = episodes(0.5, 0.25, spec, rng)
        top, bottom = endocardium - gap_cm - thick_cm, endocardium - gap_cm
        layers.append(
            Layer(top_cm=top, bottom_cm=bottom, level_db=-3 - 33 * (1 - seen), memory_s=0.06)
        )
        level = np.where(seen > 0.05, 4 - 16 * (1 - seen), NOWHERE_DB)
        mirrors.append(Mirror(depth_cm=top, level_db=level))
    return layers, mirrors


def around_septum(
    septum_right: Floats, spec: MModeSpec, rng: np.random.Generator
) -> list[Mirror]:
    """Trabeculae on the right side of the septum."""
    if not spec.trabeculae:
        return []
    mirrors = []
    for gap_cm, share in ((0.11, 0.5), (0.24, 0.35)):
        seen = episodes(share, 0.2, spec, rng)
        level = np.where(seen > 0.05, 5 - 14 * (1 - seen), NOWHERE_DB)
        gap = gap_cm * spec.size + 0.01 * slow_db(spec.columns, 0.1 / spec.s_per_column, rng)
        mirrors.append(Mirror(depth_cm=septum_right - gap, level_db=level))
    return mirrors
