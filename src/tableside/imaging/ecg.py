"""Follow the electrocardiogram that a machine drew into its picture.

The line has one colour; what lies around it is grey, or a flow map whose colours fill areas.
So the line is what is left of one hue when everything thicker than a line has been taken away.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tableside.errors import NotMeasurable
from tableside.imaging.thin_line import find_thin_line
from tableside.imaging.types import Bools, Floats, Ints, Pixels


@dataclass(frozen=True, slots=True, kw_only=True)
class EcgOptions:
    """How the line is told from the rest. Change these, not the code."""

    least_chroma: float = 45.0  # largest minus smallest channel of a coloured pixel, of 255
    colours: int = 7  # how many hues are tried
    off_hue: float = 4  # how much another hue counts against a pixel
    least_white: float = 0.7  # share of the columns in which a line without colour is seen
    white_reach: float = 0.35  # of the height: how far its waves reach
    white_jump_cost: float = 0.05  # among speckle a jump must be earned
    white_run_level: float = 0.6
    off_rest: float = 0.95  # what a pixel counts off its rest
    rest_px: int = 2
    axis_share: float = 0.4  # of its columns are lit: a straight axis
    least_rest: float = 0.7  # what a pixel at the rest counts that a white flow hides
    speckle: float = 0.97  # share of the pixels beside a white line that count as dark
    most_speckle: float = 0.75  # of the line's grey
    over_speckle: float = 0.25
    too_bright: float = 25.0  # over the line's own grey: not the line
    blob_px: int = 9  # what is thicker than this in both directions is no line
    least_coverage: float = 0.45  # share of the columns in which the line must be seen
    jump_cost: float = 0.01  # of a jump over one dark row; a full line pixel is worth 1
    stroke_cost: float = 0.004  # of a jump over one lit row
    full: float = 0.6  # share of the usual brightness that counts as fully lit
    run_level: float = 0.5  # a pixel belongs to a stroke above this share of the brightness
    faint: float = 0.15  # above this share something was drawn, if badly coded
    gap_px: int = 3  # a stroke may be cut by another line this thick
    thick_px: int = 4  # a run up to this height is the line itself: its centre is taken
    baseline_px: int = 81  # width of the running median that is the baseline
    least_swing_px: float = 4.0  # a line that moves less is flat
    strip_px: int = 110  # a band up to this height is searched as one
    sure: float = 0.9  # a line seen this well ends the search
    bar_ratio: float = 1.3  # a stroke this much taller than the other ones is a sweep bar


@dataclass(frozen=True, slots=True)
class EcgLine:
    """The line, one row a column of the band that was searched.

    ``row`` counts from the top of the band. ``seen`` is False where nothing was drawn and the
    row was carried over. ``breaks`` are the columns at which the sweep starts anew.
    """

    row: Floats
    seen: Bools
    breaks: tuple[int, ...]
    swing_px: float

    def lowered(self, rows: int) -> "EcgLine":
        """Return the line with its rows counted from ``rows`` farther up."""
        return replace(self, row=self.row + rows)


def trace_ecg(band: Pixels, options: EcgOptions = EcgOptions()) -> EcgLine:
    """Follow the electrocardiogram in a part of a picture.

    Parameters
    ----------
    band : (rows, columns, 3) or (rows, columns)
        The part of the picture that may hold the line. A grey picture has no hues: a thin
        bright line is looked for instead.
    options : EcgOptions

    Returns
    -------
    EcgLine

    Raises
    ------
    NotMeasurable
        When no line runs through the band, or when it is flat.

    Notes
    -----
    For each frequent hue: the weight of every pixel in that hue, less its opening by a square
    (areas vanish, lines stay); one row a column by dynamic programming with a cost for jumps;
    the connected stroke through that row; of a tall stroke the end that lies farther from the
    baseline, which is the R or S wave. The hue whose line is seen in most columns and stands
    most alone wins; a straight line (an axis, a frame) cannot. Without such a hue the line may
    be white: the thin line that goes on through the whole band (`find_thin_line`).
    """
    found: list[tuple[float, EcgLine]] = []
    for top, part in _parts(band, options):
        lines = [_follow(one, options) for one in _line_weights(part, options)]
        found += [(score, line.lowered(top)) for score, line in lines]
        if max((score for score, _ in found), default=0.0) > options.sure:
            break
    found = [one for one in found if one[0] >= options.least_coverage]
    moving = [one for one in found if one[1].swing_px >= options.least_swing_px]
    if moving:
        return max(moving, key=lambda one: one[0])[1]
    white = _white_line(band, options)
    if white is not None and white.swing_px >= options.least_swing_px:
        return white
    if found or white is not None:
        raise NotMeasurable("the electrocardiogram is a flat line; check the electrodes")
    raise NotMeasurable("no electrocardiogram was found on this image; connect the electrodes")


def line_mask(line: EcgLine, shape: tuple[int, int], reach_px: int = 2) -> Bools:
    """Return the pixels that the drawn line covers, with ``reach_px`` rows beside it.

    Parameters
    ----------
    line : EcgLine
    shape : (rows, columns)
        Of the band that was searched; the line's rows count from its top.
    reach_px : int

    Notes
    -----
    Between two columns the line is drawn through all the rows between, so a tall stroke is
    covered as a whole. Columns in which nothing was seen are not covered.
    """
    row = line.row
    before = np.concatenate((row[:1], row[:-1]))
    after = np.concatenate((row[1:], row[-1:]))
    top = np.minimum(np.minimum(before, row), after) - reach_px
    bottom = np.maximum(np.maximum(before, row), after) + reach_px
    covered = np.zeros(shape, dtype=bool)
    if line.seen.any():
        first = max(0, int(top[line.seen].min()))
        part = slice(first, max(first, int(bottom[line.seen].max()) + 1))
        rows = np.arange(shape[0])[part, None]
        covered[part, : row.size] = (rows >= top) & (rows <= bottom) & line.seen
    return covered


def _white_line(band: Pixels, options: EcgOptions) -> EcgLine | None:
    """Return a line without colour: the one that goes on through the whole picture."""
    grey = np.asarray(band.min(axis=2) if band.ndim == 3 else band, dtype=np.float64)
    try:
        rest = find_thin_line(grey)
    except NotMeasurable:
        return None
    rows, columns = np.arange(grey.shape[0])[:, None], np.arange(grey.shape[1])
    near = np.clip(rest + np.array([[-1], [0], [1]]), 0, grey.shape[0] - 1)
    own = float(np.median(grey[near, columns].max(axis=0)))
    away = np.abs(rows - rest)
    thin = _thin(np.asarray(grey, dtype=np.float32), options)
    beside = thin[(away > options.rest_px) & (away <= options.white_reach * grey.shape[0])]
    speckle = min(float(np.quantile(beside, options.speckle)), options.most_speckle * own)
    full = max(options.full * own, speckle + options.over_speckle * own)
    waves = options.off_rest * np.clip((thin - speckle) / (full - speckle), 0.0, 1.0)
    waves[grey > own + options.too_bright] = 0.0
    waves[waves.mean(axis=1) > options.axis_share] = 0.0  # a drawn axis
    at_rest = np.minimum(thin / (options.full * own), 1.0)
    hidden = (away <= 1) & (grey > own + options.too_bright)
    at_rest[hidden] = np.maximum(at_rest[hidden], options.least_rest)
    share = np.where(away <= options.rest_px, at_rest, waves)
    share[away > options.white_reach * grey.shape[0]] = 0.0
    strict = replace(
        options, jump_cost=options.white_jump_cost, run_level=options.white_run_level
    )
    _, line = _line_through(np.asarray(share, dtype=np.float64), strict)
    return line if line.seen.mean() >= options.least_white else None


def _parts(band: Pixels, options: EcgOptions) -> list[tuple[int, Pixels]]:
    """Return where to look, first where the line mostly is: below, above, anywhere."""
    height = band.shape[0]
    if height <= options.strip_px:
        return [(0, band)]
    part = max(options.strip_px, int(0.4 * height))
    return [(height - part, band[-part:]), (0, band[:part]), (0, band)]


def _line_weights(band: Pixels, options: EcgOptions) -> list[Floats]:
    """Return, for each frequent hue, how much every pixel belongs to a thin line of it."""
    maps = _hue_maps(band, options) if band.ndim == 3 else [band.astype(np.float32) / 255]
    return [
        np.asarray(_thin(np.asarray(one, np.float32), options), dtype=np.float64)
        for one in maps
    ]


def _thin(
    weight: "np.ndarray[tuple[int, ...], np.dtype[np.float32]]", options: EcgOptions
) -> "np.ndarray[tuple[int, ...], np.dtype[np.float32]]":
    """Return what is left when all that is thicker than a line has been taken away."""
    import cv2  # noqa: PLC0415  (slow to import)

    square = np.ones((options.blob_px, options.blob_px), np.uint8)
    return np.asarray(weight - cv2.morphologyEx(weight, cv2.MORPH_OPEN, square))


def _hue_maps(
    band: Pixels, options: EcgOptions
) -> list["np.ndarray[tuple[int, ...], np.dtype[np.float32]]"]:
    """Return the colour of the picture unmixed into each of its frequent hues, 0 to 1."""
    colour = band.astype(np.float32)
    grey = colour.min(axis=2)
    across = (colour @ np.array([1, -0.5, -0.5], np.float32)) / 255
    along = (colour @ np.array([0, 0.8660, -0.8660], np.float32)) / 255
    strong = colour.max(axis=2) - grey > options.least_chroma
    maps = []
    for angle in _frequent_hues(np.arctan2(along, across), strong, options.colours):
        inside = across * np.cos(angle) + along * np.sin(angle)
        beside = np.abs(along * np.cos(angle) - across * np.sin(angle))
        maps.append(np.clip(inside - options.off_hue * beside, 0, None))
    return maps


def _frequent_hues(angle: Floats, strong: Bools, count: int) -> list[float]:
    """Return the hues, as angles, that are there in the most columns."""
    bins, width = 72, angle.shape[1]
    columns = np.nonzero(strong)[1]
    bin_of = ((angle[strong] + np.pi) * (bins / (2 * np.pi))).astype(np.int64) % bins
    there = np.bincount(bin_of * width + columns, minlength=bins * width) > 0
    presence = there.reshape(bins, width).sum(axis=1).astype(np.float64)
    smooth = presence + 0.5 * (np.roll(presence, 1) + np.roll(presence, -1))
    hues = []
    for _ in range(count):
        top = int(smooth.argmax())
        if smooth[top] <= 0:
            break
        hues.append((top + 0.5) * 2 * np.pi / bins - np.pi)
        smooth[np.arange(top - 2, top + 3) % bins] = 0
    return hues


def _follow(weight: Floats, options: EcgOptions) -> tuple[float, EcgLine]:
    """Return the line through one map of weights, and how well it is seen, 0 to 1."""
    bright = np.sort(weight.max(axis=0))[weight.shape[1] // 4 :]
    level = float(np.median(bright)) if bright.size else 0.0
    if level < 0.05:
        return 0.0, EcgLine(np.zeros(weight.shape[1]), np.zeros(weight.shape[1], bool), (), 0.0)
    return _line_through(np.minimum(weight / (options.full * level), 1.0), options)


def _line_through(share: Floats, options: EcgOptions) -> tuple[float, EcgLine]:
    """Return the line through a map of how surely each pixel is drawn, and its score."""
    path = cheapest_rows(share, options)
    top, bottom, seen = _strokes(share > options.run_level, path, options.gap_px)
    faint = _is_near(share > options.faint, path)
    seen, breaks = _without_bars((top, bottom), seen, faint, options)
    row = _stroke_ends(share, (top, bottom), seen, options)
    alone = share[:, seen].sum(axis=0)
    own = bottom[seen] - top[seen] + 1
    score = float(seen.mean() * np.mean(np.minimum(1.0, (own + 2) / (alone + 1e-9))))
    away = np.abs(row - _running_median(row, options.baseline_px))
    return score, EcgLine(row, seen, breaks, float(np.quantile(away, 0.995)))


def cheapest_rows(share: Floats, options: EcgOptions) -> Ints:
    """Return the row of each column for the least sum of dark columns and dark jumps.

    A jump costs what lies between: next to nothing along a drawn stroke, more over the dark.
    """
    height, width = share.shape
    price = options.stroke_cost + options.jump_cost * (1.0 - share)
    ramps = np.cumsum(price, axis=0).T
    totals = np.empty((width, height))
    totals[0] = 1.0 - share[:, 0]
    for column in range(1, width):
        before, ramp = totals[column - 1], ramps[column]
        down = np.minimum.accumulate(before - ramp) + ramp
        up = np.minimum.accumulate((before + ramp)[::-1])[::-1] - ramp
        totals[column] = np.minimum(down, up) + 1.0 - share[:, column]
    rows = np.empty(width, dtype=np.int64)
    rows[-1] = totals[-1].argmin()
    for column in range(width - 1, 0, -1):
        jumps = np.abs(ramps[column] - ramps[column, rows[column]])
        rows[column - 1] = (totals[column - 1] + jumps).argmin()
    return rows


def _strokes(lit: Bools, path: Ints, gap_px: int) -> tuple[Ints, Ints, Bools]:
    """Return top and bottom of the lit run through each column's path, and if it is lit."""
    height, width = lit.shape
    columns = np.arange(width)
    near = np.stack([lit[np.clip(path + d, 0, height - 1), columns] for d in (0, -1, 1)])
    seen = near.any(axis=0)
    ends = []
    for step in (-1, 1):
        row, end, dark = path.copy(), path.copy(), np.zeros(width, dtype=np.int64)
        for _ in range(height):
            row = row + step
            alive = (row >= 0) & (row < height) & (dark <= gap_px)
            if not alive.any():
                break
            on = alive & lit[np.clip(row, 0, height - 1), columns]
            end = np.where(on, row, end)
            dark = np.where(on, 0, dark + 1)
        ends.append(end)
    return ends[0], ends[1], np.asarray(seen)


def _is_near(lit: Bools, path: Ints, reach: int = 3) -> Bools:
    """Return whether anything is lit within ``reach`` rows of the path, for each column."""
    rows = np.clip(path + np.arange(-reach, reach + 1)[:, None], 0, lit.shape[0] - 1)
    return np.asarray(lit[rows, np.arange(path.size)].any(axis=0))


def _without_bars(
    stroke: tuple[Ints, Ints], seen: Bools, faint: Bools, options: EcgOptions
) -> tuple[Bools, tuple[int, ...]]:
    """Return ``seen`` without the sweep bar, and the columns where the sweep starts anew.

    A bar reaches past the baseline on both sides, farther than any wave; a sweep also starts
    anew after a stretch without line, unless such stretches are many (a badly drawn line).
    """
    top, bottom = stroke
    middle = np.median(((top + bottom) / 2)[seen]) if seen.any() else 0.0
    both = np.minimum(middle - top, bottom - middle)
    reach = np.sort(both[seen])
    usual = max(float(reach[int(0.97 * (reach.size - 1))]) if reach.size else 0.0, 8.0)
    bar = seen & (both > options.bar_ratio * usual)
    clean = seen & ~bar
    edges = np.flatnonzero(np.diff(np.concatenate(([0], bar.astype(np.int64), [0]))))
    breaks = [int(edge) for edge in edges[::2] if 0 < edge < top.size - 1]
    held = np.flatnonzero(faint & ~bar)
    gaps = np.diff(held)
    order = np.argsort(gaps)
    if gaps.size > 1 and gaps[order[-1]] > max(12, 3 * gaps[order[-2]]):
        breaks.append(int(held[order[-1]] + 1))
    return clean, tuple(sorted(set(breaks)))


def _stroke_ends(
    share: Floats, stroke: tuple[Ints, Ints], seen: Bools, options: EcgOptions
) -> Floats:
    """Return the row of the line: the centre of a flat run, the far end of a tall one."""
    top, bottom = stroke
    columns = np.arange(top.size)
    middle = _carried((top + bottom) / 2, seen)
    baseline = _running_median(middle, options.baseline_px)
    far = np.where(baseline - top > bottom - baseline, top, bottom).astype(np.float64)
    rows = np.arange(share.shape[0])[:, None]
    inside = np.where((rows >= top) & (rows <= bottom), share, 0.0)
    centre = (inside * rows).sum(axis=0) / np.maximum(inside.sum(axis=0), 1e-9)
    thin = bottom - top + 1 <= options.thick_px
    row = np.where(thin, centre, far)
    return _carried(row, seen & (columns >= 0))


def _carried(row: Floats, seen: Bools) -> Floats:
    """Return the row with unseen columns filled in by straight lines."""
    held = np.flatnonzero(seen)
    if held.size == 0:
        return np.zeros(row.size)
    return np.asarray(np.interp(np.arange(row.size), held, row[held]))


def _running_median(values: Floats, width: int) -> Floats:
    odd = min(width, values.size) // 2 * 2 + 1
    padded = np.pad(values, odd // 2, mode="edge")
    return np.asarray(np.median(sliding_window_view(padded, odd), axis=-1))
