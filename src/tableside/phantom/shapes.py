"""Distances to simple shapes, from which anatomy is put together. All in cm."""

import numpy as np

from tableside.phantom.sector import Anatomy
from tableside.phantom.types import Floats

MIRROR_NARROWING = 3.0  # exponent of the cosine between beam and normal
NOTHING_DB = -120.0


def ellipse(
    x: Floats, y: Floats, centre: tuple[float, float], axes: tuple[float, float]
) -> Floats:
    """Return the signed distance to an ellipse, negative inside; exact on the outline."""
    u, v = (x - centre[0]) / axes[0], (y - centre[1]) / axes[1]
    radius = np.hypot(u, v)
    slope = np.hypot(u / axes[0], v / axes[1])
    return np.asarray((radius - 1) * radius / np.maximum(slope, 1e-6))


def segment(
    x: Floats, y: Floats, one: tuple[float, float], other: tuple[float, float]
) -> Floats:
    """Return the distance to a line between two points."""
    dx, dy = other[0] - one[0], other[1] - one[1]
    along = ((x - one[0]) * dx + (y - one[1]) * dy) / max(dx * dx + dy * dy, 1e-9)
    along = np.clip(along, 0, 1)
    return np.asarray(np.hypot(x - one[0] - along * dx, y - one[1] - along * dy))


class Canvas:
    """Anatomy in the making: shapes are painted one over the other along the beams."""

    def __init__(self, x: Floats, y: Floats, level_db: float, fade_db_per_cm: float) -> None:
        self.x, self.y = x, y
        self._level = level_db - fade_db_per_cm * y
        self._mirror = np.full_like(x, NOTHING_DB)
        self._blood = np.zeros_like(x)
        reach = np.hypot(x, y)
        self._step_cm = float(reach[1, 0] - reach[0, 0])

    def fill(self, distance: Floats, level_db: float, *, is_blood: bool = False) -> None:
        """Fill the inside of a shape."""
        inside = distance < 0
        self._level[inside] = level_db
        self._mirror[inside] = NOTHING_DB
        self._blood[inside] = float(is_blood)

    def mirror(
        self, distance: Floats, level_db: float | Floats, width_cm: float = 0.02
    ) -> None:
        """Put a smooth surface on an outline: bright where the beam meets it flat."""
        facing = np.abs(np.gradient(distance, self._step_cm, axis=0)).clip(0.12, 1)
        level = level_db + 20 * MIRROR_NARROWING * np.log10(facing)
        level = level - 4.34 * (distance / width_cm) ** 2
        self._mirror = np.maximum(self._mirror, level)

    def line(self, distance: Floats, level_db: float, thick_cm: float) -> None:
        """Draw a thin structure, such as a leaflet."""
        self.fill(distance - thick_cm / 2, level_db)

    def anatomy(self) -> Anatomy:
        """Return what was painted."""
        return Anatomy(level_db=self._level, mirror_db=self._mirror, is_blood=self._blood)
