"""Two-dimensional pictures of the whole heart: four chambers, and the ventricle's short axis.

Sizes follow the same formulas as the M-modes, so that a study agrees with itself.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from tableside.phantom.mmode_aorta import aorta_diameter_cm
from tableside.phantom.sector import Anatomy, Sector, SectorCamera, smooth_field
from tableside.phantom.shapes import NOTHING_DB, Canvas, ellipse, segment
from tableside.phantom.speckle import to_pixels
from tableside.phantom.types import Bools, Floats, Pixels
from tableside.phantom.ventricle import Ventricle, canine_ventricle

BLOOD_DB = -37.0
LENGTH_TO_DIAMETER = 1.6
LONG_TO_SHORT_ATRIUM = 1.1  # long-axis over short-axis diameter of the left atrium
SKIN_CM = 0.9
Ends = tuple[tuple[float, float], tuple[float, float]]
Place = tuple[Floats, Floats]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChamberSpec:
    """The animal, what is enlarged, and the fan."""

    weight_kg: float = 10.0
    enlargement: float = 1.0
    fractional_shortening: float = 0.36
    wall: float = 1.0
    left_atrium_to_aorta: float = 1.3
    leaflet_cm: float = 0.07
    sector: Sector = field(default_factory=Sector)

    @property
    def size(self) -> float:
        """Length of this animal over that of a dog of 10 kg."""
        return float((self.weight_kg / 10.0) ** (1 / 3))

    @property
    def heart(self) -> Ventricle:
        """The left ventricle."""
        return canine_ventricle(
            self.weight_kg, self.fractional_shortening, self.enlargement, self.wall
        )

    @property
    def atrium_cm(self) -> float:
        """Long-axis diameter of the left atrium when it is largest."""
        aorta_cm = aorta_diameter_cm(self.weight_kg)
        return LONG_TO_SHORT_ATRIUM * self.left_atrium_to_aorta * aorta_cm

    @property
    def length_cm(self) -> float:
        """From the apex to the mitral annulus."""
        return LENGTH_TO_DIAMETER * self.heart.cavity_cm


@dataclass(frozen=True, slots=True, kw_only=True)
class ChamberPicture:
    """Frames of one view; ``points`` are the ends of what is known, on the frame ``frame``."""

    pixels: Pixels  # (frames, rows, columns)
    sector: Sector
    frame: int = 0
    points: Mapping[str, Ends] = field(default_factory=dict)
    truth: Mapping[str, float] = field(default_factory=dict)


def long_axis(spec: ChamberSpec, contraction: Floats, seed: int) -> ChamberPicture:
    """Return the right parasternal long axis of four chambers.

    ``contraction`` holds one value a frame, 0 to 1. ``LAD`` is the diameter of the left
    atrium parallel to the mitral annulus, inner edge to inner edge, on the frame of the
    strongest contraction.
    """
    middle_cm = 2.1 * spec.size + spec.heart.septum_cm + spec.heart.cavity_cm / 2
    half_cm = max(spec.heart.cavity_cm, spec.atrium_cm) / 2
    start_cm = 0.80 * spec.length_cm
    frame = int(np.argmax(contraction))
    centre = _atrium_centre(spec)
    reach = spec.atrium_cm * _atrial_share(float(contraction[frame])) / 2
    x = centre - start_cm
    ends = ((x, middle_cm - reach), (x, middle_cm + reach))
    sector = _fitted(
        replace(spec.sector, half_angle_deg=46.0), middle_cm + half_cm + 1.2 * spec.size
    )

    def paint(place: Place, full: float) -> Anatomy:
        heart = (middle_cm - place[1], place[0] + start_cm)
        return _paint_chambers(spec, place, heart, full)

    pixels = _film(sector, contraction, seed, (paint, spec.size, ends))
    return ChamberPicture(
        pixels=pixels,
        sector=sector,
        frame=frame,
        points={"LAD": (sector.pixel(*ends[0]), sector.pixel(*ends[1]))},
        truth={"LAD": 2 * reach},
    )


def apical(spec: ChamberSpec, contraction: Floats, seed: int) -> ChamberPicture:
    """Return the four chambers seen from the apex."""
    sector = _fitted(spec.sector, SKIN_CM * spec.size + spec.length_cm + 1.1 * spec.atrium_cm)
    aside_cm = 0.08 * spec.heart.cavity_cm

    def paint(place: Place, full: float) -> Anatomy:
        heart = (aside_cm - place[0], place[1] - SKIN_CM * spec.size)
        return _paint_chambers(spec, place, heart, full)

    pixels = _film(sector, contraction, seed, (paint, spec.size, None))
    return ChamberPicture(pixels=pixels, sector=sector)


def short_axis(spec: ChamberSpec, contraction: Floats, seed: int) -> ChamberPicture:
    """Return the left ventricle as a ring with its two papillary muscles."""
    heart = spec.heart
    centre_cm = 2.1 * spec.size + heart.septum_cm + heart.cavity_cm / 2
    sector = _fitted(spec.sector, centre_cm + 0.75 * heart.cavity_cm + 1.3 * spec.size)

    def paint(place: Place, full: float) -> Anatomy:
        return _paint_ring(spec, place, centre_cm, full)

    pixels = _film(sector, contraction, seed, (paint, spec.size, None))
    return ChamberPicture(pixels=pixels, sector=sector)


def _film(
    sector: Sector,
    contraction: Floats,
    seed: int,
    scene: tuple[Callable[[Place, float], Anatomy], float, Ends | None],
) -> Pixels:
    """Draw the frames. Outlines are uneven, but true where a diameter is known."""
    paint, size, ends = scene
    rng = np.random.default_rng(seed)
    x, y = sector.beam_points()
    uneven = [0.06 * size * smooth_field(x.shape, (22.0, 12.0), rng) for _ in range(2)]
    share = np.ones_like(x)
    if ends is not None:
        share = 1 - np.exp(-0.5 * (segment(x, y, *ends) / (0.25 * size)) ** 2)
    place = (x + share * uneven[0], y + share * uneven[1])
    camera = SectorCamera(sector, rng)
    return np.stack([to_pixels(camera.draw(paint(place, float(full)))) for full in contraction])


def _fitted(sector: Sector, depth_cm: float) -> Sector:
    return replace(sector, cm_per_px=depth_cm / (sector.rows - 1 - sector.tip_row))


def _atrial_share(full: float) -> float:
    """How large the atrium is: it fills while the ventricle contracts."""
    return 0.8 + 0.2 * full


def _atrium_centre(spec: ChamberSpec) -> float:
    return spec.length_cm + 0.42 * spec.atrium_cm


def _background(spec: ChamberSpec, place: Place) -> Canvas:
    canvas = Canvas(*place, level_db=-5.0, fade_db_per_cm=1.6 / spec.size)
    reach = np.hypot(*place)
    for depth_cm, level_db in ((0.25, 6.0), (0.5, 2.0), (0.72, 3.0)):
        canvas.mirror(reach - depth_cm * spec.size, level_db)
    return canvas


def _paint_chambers(spec: ChamberSpec, place: Place, heart: Place, full: float) -> Anatomy:
    """Paint the chambers; ``heart`` is across (right heart positive) and along."""
    canvas = _background(spec, place)
    u, v = heart
    left = spec.heart
    radius = float(left.cavity_at(np.array(full))) / 2
    thick = float(left.wall_at(np.array(full)))
    base = spec.length_cm * (1 - 0.14 * full)
    cavity = ellipse(u, v, (0.0, 0.6 * base), (radius, 0.6 * base))
    muscle = ellipse(u, v, (0.0, 0.6 * base), (radius + thick, 0.6 * base + 0.7 * thick))
    ventricle = np.maximum(cavity, v - base)
    atrial = spec.atrium_cm * _atrial_share(full)
    atrium = ellipse(u, v, (0.0, _atrium_centre(spec)), (atrial / 2, 0.62 * atrial))
    _paint_right(canvas, spec, heart, (radius + thick, base))
    canvas.fill(np.maximum(muscle, v - base - 0.1), -1.0)
    canvas.mirror(muscle, 13.0, width_cm=0.03)
    canvas.fill(atrium - 0.13 * spec.size, -2.0)
    canvas.mirror(atrium - 0.13 * spec.size, _only(12.0, v < base), width_cm=0.03)
    canvas.fill(ventricle, BLOOD_DB, is_blood=True)
    canvas.mirror(cavity, _only(7.0, v > base))
    canvas.fill(np.maximum(atrium, base - v), BLOOD_DB, is_blood=True)
    canvas.mirror(atrium, _only(7.0, v < base))
    _paint_mitral(canvas, spec, heart, (radius, base, full))
    return canvas.anatomy()


def _only(level_db: float, hidden: Bools) -> Floats:
    """Return a level that vanishes where a surface is not there."""
    return np.where(hidden, NOTHING_DB, level_db)


def _paint_right(
    canvas: Canvas, spec: ChamberSpec, heart: Place, edge: tuple[float, float]
) -> None:
    """Paint the right ventricle and atrium, on the far side of the septum."""
    u, v = heart
    septum, base = edge
    size = spec.size
    chamber = ellipse(
        u, v, (septum * 0.72, 0.56 * base), (0.75 * size + 0.28 * septum, 0.46 * base)
    )
    atrium = ellipse(
        u, v, (septum * 0.7 + 0.3 * size, base + 0.62 * size), (0.85 * size, 0.78 * size)
    )
    for shape in (np.maximum(chamber, v - base), atrium):
        canvas.fill(shape - 0.16 * size, -3.0)
        canvas.fill(shape, BLOOD_DB, is_blood=True)
        canvas.mirror(shape, 5.0)
        canvas.mirror(shape - 0.16 * size, 8.0)


def _paint_mitral(
    canvas: Canvas,
    spec: ChamberSpec,
    heart: Place,
    state: tuple[float, float, float],
) -> None:
    """Paint two leaflets: closed on the annulus in systole, hanging down when open."""
    radius, base, full = state
    reach = 0.85 * radius
    depth = 0.14 if full > 0.25 else 0.85
    middle = 0.03 if full > 0.25 else 0.50
    for side in (-1.0, 1.0):
        hinge = (side * 0.74 * radius, base)
        tip = (side * middle * radius, base - depth * reach)
        distance = segment(*heart, hinge, tip)
        canvas.line(distance, 5.0, spec.leaflet_cm * spec.size)


def _paint_ring(spec: ChamberSpec, place: Place, centre_cm: float, full: float) -> Anatomy:
    canvas = _background(spec, place)
    x, y = place
    radius = float(spec.heart.cavity_at(np.array(full))) / 2
    thick = float(spec.heart.wall_at(np.array(full)))
    centre = (0.0, centre_cm - 0.1 * (spec.heart.cavity_cm / 2 - radius))
    outer = ellipse(x, y, centre, (radius + thick,) * 2)
    inner = ellipse(x, y, centre, (radius,) * 2)
    size = spec.size
    right = ellipse(
        x, y, (0.15 * size, centre[1] - radius - thick + 0.15 * size), (1.9 * size, 0.85 * size)
    )
    canvas.fill(right - 0.16 * size, -3.0)
    canvas.fill(right, BLOOD_DB, is_blood=True)
    canvas.mirror(right, 5.0)
    canvas.mirror(right - 0.16 * size, 8.0)
    canvas.fill(outer, -1.0)
    canvas.mirror(outer, 13.0, width_cm=0.03)
    canvas.fill(inner, BLOOD_DB, is_blood=True)
    canvas.mirror(inner, 7.0)
    for turn_deg in (48.0, 132.0):
        turn = np.radians(turn_deg)
        at = 0.84 * radius
        middle = (centre[0] + at * float(np.cos(turn)), centre[1] + at * float(np.sin(turn)))
        muscle = ellipse(x, y, middle, (0.26 * radius, 0.30 * radius))
        canvas.fill(muscle, -1.0)
        canvas.mirror(muscle, 4.0)
    return canvas.anatomy()
