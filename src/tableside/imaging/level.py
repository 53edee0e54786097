"""What an M-mode shows before anyone says what it crosses: how its lines move together.

The tracing is read three times, as a left ventricle, as a mitral valve and as an aortic root.
The reading that is wrong gives itself away: a root has two walls that go the same way at a
steady distance, a ventricle has walls that go against each other, and a valve has a leaflet
that swings between the middle of the cavity and the septum.
"""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass

import cv2
import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.aorta import RootTrace, trace_root
from tableside.imaging.mitral import trace_leaflet
from tableside.imaging.mmode_grey import Greys, MmodeGrey, mmode_grey
from tableside.imaging.types import Floats, Pixels
from tableside.imaging.walls import WallTrace, trace_walls


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelOptions:
    """How a tracing is looked at. Change these, not the code."""

    grain_s: float = 0.02  # motion faster than this is grain
    breath_s: float = 0.5  # and slower than this is breathing
    spread: tuple[float, float] = (5.0, 95.0)  # percentiles between which a line moves
    near: float = 8.0  # percentile of the leaflet's place that counts as nearest
    least_cm: float = 0.2  # nothing thinner is taken for a chamber or a root
    least_travel_cm: float = 0.08  # a heart moves its walls by more
    middle: tuple[float, float] = (0.3, 0.7)  # of the root: where shut cusps lie
    sides: tuple[float, float] = (0.12, 0.88)  # inside the walls of the root
    cusp_rise: float = 0.35  # of bright minus dark: a line against the blood of the root


def level_features(
    mmode: Pixels,
    *,
    cm_per_row: float,
    s_per_column: float,
    options: LevelOptions = LevelOptions(),
) -> Mapping[str, float]:
    """Return what tells one level of the heart from another.

    Parameters
    ----------
    mmode : (rows, columns) or (rows, columns, 3)
        The region of the tracing alone.
    cm_per_row, s_per_column : float
        Its scale.
    options : LevelOptions

    Returns
    -------
    Mapping
        All are ratios. ``cavity_change``: shortening of the space between septum and free
        wall. ``against``: correlation of the motion of both, -1 when they go against each
        other. ``wall``: thickness of the free wall over the cavity. ``leaflet_travel`` and
        ``leaflet_nearest``: how far the first line behind the septum swings and how near it
        comes, in cavities. ``root_along``: correlation of the motion of both walls of a root.
        ``root_change``: change of their distance. ``root_contrast``: step of grey at both
        walls, the lesser. ``behind_root``: the space behind the root over the root.
        ``cusps``: share of the time in which a line lies in the middle of the root, as shut
        cusps do in diastole.

    Raises
    ------
    NotMeasurable
        When the tracing is empty, too small, without contrast, or no two walls on it move.
    """
    moving = _Motion(s_per_column, options)
    picture = mmode_grey(mmode)
    walls = trace_walls(picture, cm_per_row=cm_per_row, s_per_column=s_per_column)
    root = trace_root(picture, cm_per_row=cm_per_row, s_per_column=s_per_column)
    least_px = options.least_cm / cm_per_row
    pairs = ((walls.septum_left, walls.endocardium), (root.anterior, root.posterior))
    travels_px = [min(moving.travel(moving.smooth(e.leading)) for e in pair) for pair in pairs]
    if max(travels_px) * cm_per_row < options.least_travel_cm:
        raise NotMeasurable("no two walls on this M-mode move with a heart beat")
    found = {**_ventricle(walls, moving, least_px), **_root(root, moving, least_px)}
    found["cusps"] = _cusps(picture.grey, root, options)
    with suppress(NotMeasurable):  # no room for a leaflet: its features stay unknown
        found |= _leaflet(picture, walls, moving, least_px)
    return {name: value for name, value in found.items() if np.isfinite(value)}


@dataclass(frozen=True, slots=True)
class _Motion:
    """Lines without grain, and what of them is the beat's."""

    s_per_column: float
    options: LevelOptions

    def smooth(self, line: Floats) -> Floats:
        """Return the line without its grain."""
        return _blur(line, max(0.5, self.options.grain_s / self.s_per_column))

    def beating(self, line: Floats) -> Floats:
        """Return what of a smooth line is faster than breathing."""
        return line - _blur(line, self.options.breath_s / self.s_per_column)

    def travel(self, line: Floats) -> float:
        """Return how far a smooth line moves with the beat."""
        low, high = np.percentile(self.beating(line), self.options.spread)
        return float(high - low)

    def together(self, one: Floats, other: Floats) -> float:
        """Return the correlation of two motions; NaN when one stands still."""
        a, b = self.beating(one), self.beating(other)
        if a.std() < 1e-6 or b.std() < 1e-6:
            return float("nan")
        return float(np.corrcoef(a, b)[0, 1])


def _blur(line: Floats, sigma: float) -> Floats:
    blurred = cv2.GaussianBlur(
        line[None].astype(np.float64), (0, 0), sigmaX=sigma, borderType=cv2.BORDER_REFLECT
    )
    return np.asarray(blurred[0], dtype=np.float64)


def _ventricle(walls: WallTrace, moving: _Motion, least_px: float) -> Mapping[str, float]:
    septum = moving.smooth(walls.septum_left.leading)
    wall = moving.smooth(walls.endocardium.leading)
    outer = moving.smooth(walls.epicardium.leading)
    cavity = np.maximum(wall - septum, least_px)
    return {
        "cavity_change": moving.travel(cavity) / float(np.percentile(cavity, 95)),
        "against": moving.together(septum, wall),
        "wall": float(np.median(outer - wall) / np.median(cavity)),
    }


def _leaflet(
    mmode: MmodeGrey, walls: WallTrace, moving: _Motion, least_px: float
) -> Mapping[str, float]:
    leaflet = moving.smooth(trace_leaflet(mmode, walls).leading)
    septum = moving.smooth(walls.septum_left.leading)
    cavity = np.maximum(moving.smooth(walls.endocardium.leading) - septum, least_px)
    place = np.clip((leaflet - septum) / cavity, -0.5, 1.5)
    return {
        "leaflet_travel": moving.travel(place),
        "leaflet_nearest": float(np.percentile(place, moving.options.near)),
    }


def _root(root: RootTrace, moving: _Motion, least_px: float) -> Mapping[str, float]:
    anterior = moving.smooth(root.anterior.leading)
    posterior = moving.smooth(root.posterior.leading)
    width = np.maximum(posterior - anterior, least_px)
    behind = float(np.median(moving.smooth(root.atrial.leading) - posterior))
    lesser = np.minimum(root.anterior.contrast, root.posterior.contrast)
    return {
        "root_along": moving.together(anterior, posterior),
        "root_change": moving.travel(width) / float(np.median(width)),
        "root_contrast": float(np.median(lesser)),
        "behind_root": behind / float(np.median(width)),
    }


def _cusps(grey: Greys, root: RootTrace, options: LevelOptions) -> float:
    """Return the share of columns with a line in the middle of the root, blood around it."""
    top, bottom = root.anterior.leading, root.posterior.leading
    low, high = options.sides
    share = np.linspace(low, high, 41)[:, None]
    rows = (top + share * np.maximum(bottom - top, 1.0)).astype(np.float32)
    columns = np.broadcast_to(np.arange(grey.shape[1], dtype=np.float32), rows.shape)
    inside = cv2.remap(
        np.ascontiguousarray(grey, dtype=np.float32), np.ascontiguousarray(columns), rows,
        cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    inside = cv2.GaussianBlur(inside, (0, 0), sigmaX=2.0, sigmaY=1.0)
    dark, bright = np.percentile(inside, 30), np.percentile(grey, 97)
    a, b = options.middle
    is_middle = ((share > a) & (share < b))[:, 0]
    line = (inside[is_middle].max(axis=0) - dark) / max(float(bright - dark), 1.0)
    return float((line > options.cusp_rise).mean())
