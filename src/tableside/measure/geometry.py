"""Plane geometry of an outline: its area, its length around, and the volume it stands for."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot, pi

import numpy as np
from numpy.typing import NDArray

from tableside.errors import NotMeasurable

Floats = NDArray[np.float64]
Outline = Sequence[tuple[float, float]]

SLICES = 20  # discs along the long axis, as the source counts them


@dataclass(frozen=True, slots=True)
class LongAxis:
    """The line from the middle of the annulus to the point farthest from it."""

    base: tuple[float, float]
    apex: tuple[float, float]

    @property
    def length(self) -> float:
        """Distance from base to apex, in the unit of the outline."""
        return hypot(self.apex[0] - self.base[0], self.apex[1] - self.base[1])


def sides(outline: Outline) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    """Yield the sides of a closed outline, the last one back to the first point."""
    yield from zip(outline, (*outline[1:], outline[0]), strict=True)


def area(outline: Outline) -> float:
    """Return the area inside a closed outline (shoelace rule), in its unit squared."""
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in sides(outline))) / 2


def perimeter(outline: Outline) -> float:
    """Return the length around a closed outline, in its unit."""
    return sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in sides(outline))


def crosses_itself(outline: Outline) -> bool:
    """Return whether two sides of a closed outline cross, as a figure of eight does.

    Sides that only touch do not cross.
    """
    start = np.asarray(outline, dtype=np.float64)
    end = np.roll(start, -1, axis=0)
    for i in range(len(start) - 2):
        a, b, c, d = start[i], end[i], start[i + 2 :], end[i + 2 :]
        apart = _turn(a, b, c) * _turn(a, b, d) < 0
        if bool(np.any(apart & (_turn(c, d, a) * _turn(c, d, b) < 0))):
            return True
    return False


def long_axis(outline: Outline) -> LongAxis:
    """Return the long axis of a cavity whose outline begins and ends at the annulus.

    The base is the middle of the first and the last point; the apex is the point of the
    outline farthest from it.

    Raises
    ------
    NotMeasurable
        When all points coincide.
    """
    first, last = outline[0], outline[-1]
    base = ((first[0] + last[0]) / 2, (first[1] + last[1]) / 2)
    apex = max(outline, key=lambda point: hypot(point[0] - base[0], point[1] - base[1]))
    axis = LongAxis(base=base, apex=apex)
    if axis.length == 0:
        raise NotMeasurable("all points of the outline coincide; trace it again")
    return axis


def disc_volume_mL(outline_cm: Outline, slices: int = SLICES) -> float:
    r"""Volume of a cavity as a stack of round discs, from its outline in one plane.

    .. math:: V = \frac{\pi}{4} \sum_{i=1}^{20} a_i^2 \, \frac{L}{20}

    Parameters
    ----------
    outline_cm : sequence of (x, y)
        The cavity from one end of the annulus around the apex to the other end, in cm.
    slices : int
        How many discs of equal height.

    Returns
    -------
    float
        Volume, mL.

    Raises
    ------
    NotMeasurable
        When all points coincide.

    Notes
    -----
    The width :math:`a_i` is taken across the long axis at the middle of each disc, inside the
    outline. One plane takes every section as round. A slanted annulus leaves out or adds a
    wedge at the base.

    Sources: [lang2015], the biplane rule with the second plane equal to the first.
    """
    axis = long_axis(outline_cm)
    height = axis.length / slices
    along, across = _in_axis(outline_cm, axis)
    widths = (_width(along, across, (i + 0.5) * height) for i in range(slices))
    return pi / 4 * height * sum(width**2 for width in widths)


def _in_axis(outline: Outline, axis: LongAxis) -> tuple[Floats, ...]:
    points = np.asarray(outline, dtype=np.float64) - axis.base
    direction = (np.asarray(axis.apex) - axis.base) / axis.length
    along = points @ direction
    across = points @ np.array([-direction[1], direction[0]])
    return along, across


def _width(
    along: Floats,
    across: Floats,
    level: float,
) -> float:
    """Return the length inside the outline on the line across the axis at ``level``."""
    next_along, next_across = np.roll(along, -1), np.roll(across, -1)
    cut = (along <= level) != (next_along <= level)
    share = (level - along[cut]) / (next_along[cut] - along[cut])
    places = np.sort(across[cut] + share * (next_across[cut] - across[cut]))
    return float((places[1::2] - places[::2]).sum())


def _turn(
    a: Floats,
    b: Floats,
    c: Floats,
) -> Floats:
    """Return twice the signed area of the triangle a, b, c; its sign is the turn."""
    one, other = b - a, c - a
    turned: Floats = one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0]
    return turned
