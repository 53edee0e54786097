"""The interfaces near the ends of a caliper, to a fraction of a pixel.

An interface is where grey along the caliper changes fastest. A bright line has two of them: its
near flank, where the echo begins (leading edge), and its far flank (trailing edge).
"""

from dataclasses import dataclass

import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.line_profile import grey_along
from tableside.imaging.types import Floats, Pixels
from tableside.model import Point


@dataclass(frozen=True, slots=True, kw_only=True)
class SnapOptions:
    """How far and how finely interfaces are looked for. Change these, not the code."""

    reach_px: float = 12.0  # on either side of the point
    step_px: float = 0.25
    smooth_px: float = 1.2  # standard deviation along the caliper
    beside_px: float = 3.0  # lines beside it that are averaged, on either side
    least_step: float = 12.0  # grey levels over the smoothing width that make an interface


@dataclass(frozen=True, slots=True, kw_only=True)
class Interfaces:
    """Places near one point, in pixel centres; None where there is no such interface.

    ``rising`` is where grey rises along the caliper, ``falling`` where it falls; ``nearest`` is
    the nearer of the two. ``contrast`` is the step there in grey levels, ``sd_px`` how well the
    place is known along the caliper.
    """

    rising: Point | None
    falling: Point | None
    nearest: Point
    contrast: float
    sd_px: float


def snap(
    pixels: Pixels, point: Point, direction: Point, options: SnapOptions = SnapOptions()
) -> Interfaces:
    """Find the interfaces nearest to a point along a direction.

    Parameters
    ----------
    pixels : (rows, columns) or (rows, columns, 3)
    point : (x, y)
    direction : (dx, dy)
        Along the caliper, of any length; grey is followed this way.
    options : SnapOptions

    Raises
    ------
    NotMeasurable
        When nothing within reach changes enough, or the direction has no length.
    """
    length = float(np.hypot(*direction))
    if length == 0:
        raise NotMeasurable("both ends of the caliper lie on one point; pull them apart")
    along = np.asarray(direction) / length
    offsets = np.arange(-options.reach_px, options.reach_px + 1e-9, options.step_px)
    slope = _slope(_profile(pixels, np.asarray(point), along, offsets, options), options)
    rising, falling = (
        _nearest_peak(slope, offsets, options),
        _nearest_peak(-slope, offsets, options),
    )
    found = [one for one in (rising, falling) if one is not None]
    if not found:
        raise NotMeasurable(
            f"no edge within {options.reach_px:g} pixels of this point; put it nearer"
        )
    nearest = min(found, key=lambda one: abs(one[0]))

    def place(one: tuple[float, float] | None) -> Point | None:
        if one is None:
            return None
        x, y = np.asarray(point) + one[0] * along
        return float(x), float(y)

    at = place(nearest)
    assert at is not None
    return Interfaces(
        rising=place(rising),
        falling=place(falling),
        nearest=at,
        contrast=nearest[1],
        sd_px=max(0.15, 6.0 / nearest[1]),
    )


def _profile(
    pixels: Pixels, point: Floats, along: Floats, offsets: Floats, options: SnapOptions
) -> Floats:
    """Return grey along the direction, averaged over lines beside it."""
    across = np.array([-along[1], along[0]])
    beside = np.arange(-options.beside_px, options.beside_px + 1e-9, 1.0)
    weights = np.exp(-0.5 * (beside / max(options.beside_px / 2, 1e-9)) ** 2)
    lines = [
        grey_along(pixels, point + side * across + offsets[:, None] * along) for side in beside
    ]
    return np.asarray(np.average(lines, axis=0, weights=weights))


def _slope(profile: Floats, options: SnapOptions) -> Floats:
    """Return the step of grey over the smoothing width, at every offset."""
    width = options.smooth_px / options.step_px
    reach = int(4 * width)
    at = np.arange(-reach, reach + 1) / width
    kernel = -at * np.exp(-0.5 * at**2)
    kernel /= kernel[at < 0].sum()  # a sharp step gives its own height
    padded = np.pad(profile, reach, mode="edge")
    return np.asarray(np.convolve(padded, -kernel[::-1], mode="valid"))


def _nearest_peak(
    slope: Floats, offsets: Floats, options: SnapOptions
) -> tuple[float, float] | None:
    """Return offset and height of the peak nearest to the middle, by a parabola."""
    inner = slope[1:-1]
    is_peak = (inner >= slope[:-2]) & (inner > slope[2:]) & (inner >= options.least_step)
    peaks = np.flatnonzero(is_peak) + 1
    if peaks.size == 0:
        return None
    best = peaks[np.argmin(np.abs(offsets[peaks]) - 0.02 * slope[peaks])]
    before, top, after = slope[best - 1 : best + 2]
    bend = before - 2 * top + after
    shift = 0.5 * (before - after) / bend if bend else 0.0
    return float(offsets[best] + shift * options.step_px), float(top)
