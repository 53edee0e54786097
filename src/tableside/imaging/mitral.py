"""The anterior mitral leaflet on an M-mode: the first line behind the septum."""

from dataclasses import dataclass

import cv2
import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.edges import straighten
from tableside.imaging.interface import Interface
from tableside.imaging.mmode_grey import MmodeGrey, mmode_grey
from tableside.imaging.paths import best_path
from tableside.imaging.pulse import half_rise_shift_cm
from tableside.imaging.types import Floats, Pixels
from tableside.imaging.walls import WallTrace

LEAFLET_SD_CM = 0.035  # of a leaflet that moves fast; from phantom tuning seeds


@dataclass(frozen=True, slots=True, kw_only=True)
class LeafletOptions:
    """How the leaflet is followed. Change these, not the code."""

    nearest_cm: float = 0.06  # no leaflet is seen nearer to the septum
    leaflet_cm: float = 0.10  # thickness over which a leaflet is bright
    blur_cm: float = 0.015
    rise: float = 6.0  # what a full step of brightness gains
    crossing_per_cm: float = 100.0  # what passing a centimetre of another line costs
    speed_cm_s: float = 60.0  # usual speed of the leaflet when it opens
    least_contrast: float = 0.25


def trace_leaflet(
    mmode: Pixels | MmodeGrey, walls: WallTrace, options: LeafletOptions | None = None
) -> Interface:
    """Follow the anterior leaflet between septum and free wall.

    Parameters
    ----------
    mmode : (rows, columns) or (rows, columns, 3), or MmodeGrey
        The same region that ``walls`` was traced on.
    walls : WallTrace
    options : LeafletOptions, optional

    Raises
    ------
    NotMeasurable
        When there is no room between septum and free wall.
    """
    options = options or LeafletOptions()
    scale = walls.cm_per_row
    near = (
        walls.septum_left.leading
        if walls.septum_left.trailing is None
        else (walls.septum_left.trailing)
    )
    start = near + half_rise_shift_cm(walls.pulse_cm) / scale
    room = walls.endocardium.leading - start
    depth = int(np.percentile(room, 98))
    first = max(1, round(options.nearest_cm / scale))
    if depth < first + 8:
        raise NotMeasurable("there is no room for a mitral leaflet behind the septum")
    share = _shares(mmode, walls, start, depth)
    gain = _gain(share, first, scale, options)
    rows = np.arange(first, first + gain.shape[0])[:, None]
    cost = np.where(rows < room, -gain, 30.0)
    step = scale / (options.speed_cm_s * walls.s_per_column)
    reach = int(np.clip(np.ceil(2.5 / step), 2, 40))
    path = best_path(cost, smooth=0.5 * step**2, reach=reach)
    offset, contrast = _half_rise(share, path + first, scale)
    shift = half_rise_shift_cm(walls.pulse_cm) / scale
    return Interface(
        leading=start + offset + shift,
        sd_px=np.full(offset.shape, np.hypot(LEAFLET_SD_CM / scale, 0.5)),
        contrast=contrast,
        trusted=walls.filled & (contrast > options.least_contrast),
    )


def _shares(mmode: Pixels | MmodeGrey, walls: WallTrace, start: Floats, depth: int) -> Floats:
    """Return the straightened picture below the septum; 0 is blood, 1 is muscle."""
    grey = mmode_grey(mmode).grey
    sigma_rows = max(0.015 / walls.cm_per_row, 0.4)
    sigma_columns = max(0.004 / walls.s_per_column, 0.5)
    flat = cv2.GaussianBlur(
        straighten(grey, start, range(0, depth + 12)), (0, 0),
        sigmaX=sigma_columns, sigmaY=sigma_rows,
    )  # fmt: skip
    share = (flat.astype(np.float64) - walls.blood) / walls.contrast
    return np.asarray(np.clip(share, -0.2, 1.5))


def _gain(share: Floats, first: int, scale: float, options: LeafletOptions) -> Floats:
    """Return what each row gains as the leaflet: bright just behind, dark up to the septum."""
    size = max(1, round(options.leaflet_cm / scale))
    sums = np.cumsum(np.pad(share, ((1, size), (0, 0)), mode="edge"), axis=0)
    behind = (sums[size:] - sums[:-size]) / size
    before = np.concatenate([behind[:1].repeat(size, axis=0), behind[:-size]])
    crossed = np.cumsum(np.clip(share - 0.35, 0.0, 1.0), axis=0) * scale
    height = share.shape[0] - 12 - first
    window = slice(first, first + height)
    return np.asarray(
        options.rise * np.clip(behind[window] - before[window], -0.5, 1.0)
        - options.crossing_per_cm * crossed[first - 1 : first - 1 + height]
    )


def _half_rise(share: Floats, path: Floats, scale: float) -> tuple[Floats, Floats]:
    """Return where each column has risen by half to the line at the path."""
    columns = np.arange(share.shape[1])
    near = max(2, round(0.12 / scale))
    place = np.clip(np.round(path).astype(np.int64), near, share.shape[0] - near - 2)
    peak = np.max([share[place + k, columns] for k in range(-1, near)], axis=0)
    above = np.min([share[place - k, columns] for k in range(1, near + 1)], axis=0)
    half = (above + peak) / 2
    best = path.copy()
    gap = np.full(path.shape, np.inf)
    for k in range(-near, near):
        low, high = share[place + k, columns], share[place + k + 1, columns]
        at = place + k + (half - low) / np.maximum(high - low, 1e-6)
        closer = (low < half) & (high >= half) & (np.abs(at - path) < gap)
        best[closer], gap[closer] = at[closer], np.abs(at - path)[closer]
    return best, peak - above
