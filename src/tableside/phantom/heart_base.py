"""Short axis at the heart base: the aortic valve and the left atrium behind it, over time."""

from dataclasses import dataclass, field, replace

import numpy as np

from tableside.phantom.mmode_aorta import aorta_diameter_cm
from tableside.phantom.mmode_spec import column_times
from tableside.phantom.rhythm import HeartBeat, heart_beats
from tableside.phantom.sector import Sector, SectorCamera, smooth_field
from tableside.phantom.shapes import Canvas, ellipse, segment
from tableside.phantom.speckle import to_pixels
from tableside.phantom.types import Floats, Pixels
from tableside.phantom.ventricle import contraction

BLOOD_DB = -37.0
LEFT_ATRIUM_TURN_DEG = 114.0  # direction of the caliper from the aorta's centre; 90 is down
COMMISSURE_TURNS_DEG = (114.0, 234.0, 354.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeartBaseSpec:
    """The animal, the ratio of left atrium to aorta after valve closure, and the clip."""

    weight_kg: float = 10.0
    left_atrium_to_aorta: float = 1.3
    heart_rate: float = 110.0
    rhythm: str = "sinus"
    frames: int = 30
    s_per_frame: float = 1 / 30
    sector: Sector = field(default_factory=Sector)
    depth_cm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeartBasePhantom:
    """A clip with its truth.

    ``frame`` is the first after the aortic valve closes; ``points`` are the ends of the two
    diameters on it, inner edge to inner edge, as pixels of the clip.
    """

    pixels: Pixels  # (frames, rows, columns)
    cm_per_px: float
    frame: int
    points: dict[str, tuple[tuple[float, float], tuple[float, float]]]
    truth: dict[str, float]
    r_times_s: tuple[float, ...]
    beats: tuple[HeartBeat, ...]
    sector: Sector


@dataclass(frozen=True, slots=True)
class _Base:
    """Sizes at one moment, cm."""

    aorta: tuple[float, float]
    radius: float
    atrium_cm: float
    open_share: float
    wall: float


def heart_base(spec: HeartBaseSpec, seed: int) -> HeartBasePhantom:
    """Return a clip of the heart base with the diameters of left atrium and aorta."""
    rng = np.random.default_rng(seed)
    aorta_cm = aorta_diameter_cm(spec.weight_kg)
    size = aorta_cm / 1.71
    depth_cm = spec.depth_cm or 2.6 * size + (1.05 + spec.left_atrium_to_aorta) * aorta_cm
    sector = _scaled(spec.sector, depth_cm)
    time_s = column_times(spec.frames, spec.s_per_frame)
    beats = heart_beats(float(time_s[-1]), spec.heart_rate, spec.rhythm, rng)
    full = contraction(time_s, beats)
    camera = SectorCamera(sector, rng)
    x, y = sector.beam_points()
    uneven = _unevenness(x.shape, size, rng)
    frames = []
    states = [
        _state(spec, (float(t), float(s)), aorta_cm, beats)
        for t, s in zip(time_s, full, strict=True)
    ]
    for state in states:
        frames.append(to_pixels(camera.draw(_paint((x, y), uneven, state, size).anatomy())))
    frame = _frame_after_closure(time_s, beats)
    points_cm = _diameters(states[frame])
    return HeartBasePhantom(
        pixels=np.stack(frames),
        cm_per_px=sector.cm_per_px,
        frame=frame,
        points={
            name: (sector.pixel(*one), sector.pixel(*other))
            for name, (one, other) in points_cm.items()
        },
        truth={
            name: float(np.hypot(one[0] - other[0], one[1] - other[1]))
            for name, (one, other) in points_cm.items()
        },
        r_times_s=tuple(b.r_s for b in beats if 0 <= b.r_s <= time_s[-1]),
        beats=beats,
        sector=sector,
    )


def _scaled(sector: Sector, depth_cm: float) -> Sector:
    return replace(sector, cm_per_px=depth_cm / (sector.rows - 1 - sector.tip_row))


def _frame_after_closure(time_s: Floats, beats: tuple[HeartBeat, ...]) -> int:
    closures = [b.closure_s for b in beats if 0 <= b.closure_s < time_s[-1] - 0.03]
    first = closures[0] if closures else 0.0
    return min(int(np.searchsorted(time_s, first, side="right")), len(time_s) - 1)


def _state(
    spec: HeartBaseSpec,
    moment: tuple[float, float],
    aorta_cm: float,
    beats: tuple[HeartBeat, ...],
) -> _Base:
    """Sizes at a time; the atrium is largest when the aortic valve closes."""
    time_s, full = moment
    opening = max(
        (1.0 for b in beats if b.ejection_s + 0.01 <= time_s < b.closure_s), default=0.0
    )
    size = aorta_cm / 1.71
    return _Base(
        aorta=(0.12 * size, (2.75 - 0.18 * full) * size),
        radius=aorta_cm / 2 * (1 + 0.03 * full),
        atrium_cm=spec.left_atrium_to_aorta * aorta_cm * (1 - 0.2 * (1 - full)),
        open_share=opening,
        wall=0.12 * size,
    )


def _along(base: _Base, turn_deg: float, distance_cm: float) -> tuple[float, float]:
    turn = np.radians(turn_deg)
    return (
        base.aorta[0] + distance_cm * float(np.cos(turn)),
        base.aorta[1] + distance_cm * float(np.sin(turn)),
    )


def _diameters(base: _Base) -> dict[str, tuple[tuple[float, float], tuple[float, float]]]:
    """Return the ends: along a commissure, and on the line of another through the atrium."""
    start = base.radius + base.wall
    return {
        "Ao": (
            _along(base, COMMISSURE_TURNS_DEG[1], base.radius),
            _along(base, COMMISSURE_TURNS_DEG[1] - 180, base.radius),
        ),
        "LA": (
            _along(base, LEFT_ATRIUM_TURN_DEG, start),
            _along(base, LEFT_ATRIUM_TURN_DEG, start + base.atrium_cm),
        ),
    }


def _unevenness(
    shape: tuple[int, int], size: float, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Return small shifts in x and y that keep outlines from being perfect curves."""
    return (
        0.05 * size * smooth_field(shape, (22.0, 12.0), rng),
        0.05 * size * smooth_field(shape, (22.0, 12.0), rng),
    )


def _paint(
    place: tuple[Floats, Floats], uneven: tuple[Floats, Floats], base: _Base, size: float
) -> Canvas:
    """Paint one moment. Outlines are true where the calipers lie."""
    x, y = place
    ends = _diameters(base).values()
    near = np.minimum.reduce([segment(x, y, one, other) for one, other in ends])
    share = 1 - np.exp(-0.5 * (near / (0.25 * size)) ** 2)
    x, y = x + share * uneven[0], y + share * uneven[1]
    canvas = Canvas(x, y, level_db=-5.0, fade_db_per_cm=1.6 / size)
    for depth_cm, level_db in ((0.25, 6.0), (0.5, 2.0), (0.75, 4.0)):
        canvas.mirror(np.hypot(*place) - depth_cm * size, level_db)
    _paint_right_heart(canvas, base, size)
    _paint_atrium(canvas, base, size)
    ring = ellipse(x, y, base.aorta, (base.radius + base.wall,) * 2)
    lumen = ellipse(x, y, base.aorta, (base.radius,) * 2)
    canvas.fill(ring, 0.0)
    canvas.fill(lumen, BLOOD_DB, is_blood=True)
    canvas.mirror(ring, 13.0)
    canvas.mirror(lumen, 9.0)
    _paint_cusps(canvas, base)
    return canvas


def _paint_right_heart(canvas: Canvas, base: _Base, size: float) -> None:
    """Paint the right heart, which wraps round the aorta, and the pulmonary artery."""
    x, y = canvas.x, canvas.y
    outer = base.radius + base.wall + 0.75 * size
    wrap = ellipse(x, y, (base.aorta[0] - 0.1 * size, base.aorta[1]), (outer * 1.25, outer))
    artery = ellipse(
        x,
        y,
        (base.aorta[0] + 1.75 * size, base.aorta[1] + 0.3 * size),
        (0.5 * size, 1.2 * size),
    )
    wall = 0.14 * size
    above = np.maximum(wrap, y - base.aorta[1] - 0.55 * size)
    for shape in (above, artery):
        canvas.fill(shape - wall, 0.0)
        canvas.fill(shape, BLOOD_DB + 2, is_blood=True)
        canvas.mirror(shape, 6.0)
    canvas.mirror(above - wall, 9.0)


def _paint_atrium(canvas: Canvas, base: _Base, size: float) -> None:
    """Paint the left atrium: its far wall cuts the caliper's line exactly at its end."""
    x, y = canvas.x, canvas.y
    far = base.radius + base.wall + base.atrium_cm
    middle = 0.5 * far
    centre = _along(base, LEFT_ATRIUM_TURN_DEG, middle)
    turn = np.radians(LEFT_ATRIUM_TURN_DEG)
    along = (x - centre[0]) * np.cos(turn) + (y - centre[1]) * np.sin(turn)
    across = -(x - centre[0]) * np.sin(turn) + (y - centre[1]) * np.cos(turn)
    body = ellipse(along, across, (0.0, 0.0), (far - middle, 0.60 * base.atrium_cm))
    ear_centre = _along(base, 38.0, base.radius + base.wall + 0.55 * size)
    ear = ellipse(x, y, ear_centre, (0.75 * size, 0.42 * size))
    vein = segment(x, y, centre, _along(base, 150.0, far + 0.9 * size)) - 0.20 * size
    shape = np.minimum(np.minimum(body, ear), vein)
    wall = 0.12 * size
    canvas.fill(shape - wall, -1.0)
    canvas.fill(shape, BLOOD_DB, is_blood=True)
    canvas.mirror(shape, 8.0)
    canvas.mirror(shape - wall, 15.0, width_cm=0.03)


def _paint_cusps(canvas: Canvas, base: _Base) -> None:
    """Paint three closed cusps as a star; open, they lie along the wall."""
    for turn_deg in COMMISSURE_TURNS_DEG:
        if base.open_share > 0.5:
            one, other = (
                _along(base, turn_deg, 0.86 * base.radius),
                _along(base, turn_deg + 120, 0.86 * base.radius),
            )
        else:
            one, other = base.aorta, _along(base, turn_deg, base.radius)
        distance = segment(canvas.x, canvas.y, one, other)
        canvas.line(distance, 1.0, 0.04)
