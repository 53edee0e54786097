"""Find a thin line without colour that runs through a whole picture, over speckle as bright.

Speckle is thin and white too, but it does not go on: averaged along a few columns it sinks to
its mean, while a drawn line keeps its full brightness from edge to edge.
"""

from dataclasses import dataclass

import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.paths import best_path
from tableside.imaging.types import Floats, Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class ThinLineOptions:
    """How the line is told from speckle. Change these, not the code."""

    blob_px: int = 9  # what is thicker than this in both directions is no line
    along_px: int = 11  # columns averaged along the line
    tilts: tuple[int, ...] = (-2, -1, 0, 1, 2)  # rows that it may climb over them
    usual: float = 40.0  # grey levels over its surroundings that are worth one unit
    step_cost: float = 0.6
    reach_px: int = 3
    tries: int = 4  # straight lines (baseline, frame, axis) are passed over
    straight_px: float = 0.6
    least_grey: float = 70.0
    least_share: float = 0.35  # of its mean, that nine columns in ten must reach
    stands_out: float = 1.2  # over the next best line
    near_px: int = 5  # rows that belong to a line that was passed over


def find_thin_line(grey: Floats, options: ThinLineOptions = ThinLineOptions()) -> Ints:
    """Return the row of the line in each column, without its narrow waves.

    Parameters
    ----------
    grey : (rows, columns)
    options : ThinLineOptions

    Raises
    ------
    NotMeasurable
        When no line goes on through the whole picture.

    Notes
    -----
    Brightness less its opening by a square, averaged along short strokes of several tilts;
    the brightest path by dynamic programming. Straight paths are drawn axes and are wiped out.
    The line must stand out from the next best path through the rest of the picture, which is
    what speckle alone can give.
    """
    strokes = _along(_thin(grey, options), options)
    columns = np.arange(strokes.shape[1])
    found: list[tuple[float, Ints]] = []
    for _ in range(options.tries):
        rows = best_path(
            -strokes / options.usual, smooth=options.step_cost, reach=options.reach_px
        )
        place = np.clip(np.rint(rows).astype(np.int64), 0, strokes.shape[0] - 1)
        values = strokes[place, columns]
        is_straight = np.ptp(rows) < 2 * options.straight_px
        if not is_straight:
            even = float(np.quantile(values, 0.1)) > options.least_share * values.mean()
            found.append((float(values.mean()) if even else 0.0, place))
        if len(found) == 2:
            break
        around = place + np.arange(-options.near_px, options.near_px + 1)[:, None]
        strokes[np.clip(around, 0, strokes.shape[0] - 1), columns] = 0.0
    found.sort(key=lambda one: -one[0])
    best = found[0] if found else (0.0, np.zeros(0, dtype=np.int64))
    other = found[1][0] if len(found) > 1 else 0.0
    if best[0] < options.least_grey or best[0] < options.stands_out * other:
        raise NotMeasurable("no line runs through the whole picture")
    return best[1]


def _thin(grey: Floats, options: ThinLineOptions) -> Floats:
    import cv2  # noqa: PLC0415  (slow to import)

    image = grey.astype(np.float32)
    square = np.ones((options.blob_px, options.blob_px), np.uint8)
    return np.asarray(image - cv2.morphologyEx(image, cv2.MORPH_OPEN, square))


def _along(thin: Floats, options: ThinLineOptions) -> Floats:
    """Return the mean along the best of several short strokes through each pixel."""
    import cv2  # noqa: PLC0415  (slow to import)

    width, reach = options.along_px, max(options.tilts)
    best = np.zeros(thin.shape, np.float32)
    for tilt in options.tilts:
        stroke = np.zeros((2 * reach + 1, width), np.float32)
        climb = np.rint(reach + tilt * np.linspace(-0.5, 0.5, width)).astype(np.int64)
        stroke[climb, np.arange(width)] = 1.0 / width
        best = np.maximum(best, cv2.filter2D(thin, -1, stroke))
    return np.asarray(best, dtype=np.float64)
