"""Which depth holds which layer of the heart: a coarse, joint answer for all columns.

What lies behind what is given by a `LayerModel`. Each column is cut into these layers by
dynamic programming along depth; each boundary is kept smooth in time by dynamic programming
along the columns; the two exchange what they know a few times (max-product messages on the
grid of depth and time).
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tableside.errors import NotMeasurable
from tableside.imaging.mmode_grey import Greys
from tableside.imaging.paths import best_path
from tableside.imaging.types import Bools, Floats

TISSUE_SHARE = 0.25  # of the columns, from which a row holds tissue
IMPOSSIBLE = -1e5  # score of what cannot be


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerModel:
    """Layers from the probe on, and the boundaries between them.

    ``layers`` are ``before`` (chest), ``blood``, ``muscle``, ``wall`` (muscle before a bright
    line) or ``beyond``; ``edges`` are ``rise``, ``fall``, ``faint fall`` or ``line`` (the rise
    to a bright line); ``thinnest_cm`` and ``thickest_cm`` are for all layers but the first and
    the last.
    """

    layers: tuple[str, ...]
    edges: tuple[str, ...]
    thinnest_cm: tuple[float, ...]
    thickest_cm: tuple[float, ...]


LEFT_VENTRICLE = LayerModel(
    layers=("before", "blood", "muscle", "blood", "wall", "beyond"),
    edges=("faint fall", "rise", "fall", "rise", "line"),
    thinnest_cm=(0.10, 0.22, 0.30, 0.22),
    thickest_cm=(20.0, 20.0, 20.0, 20.0),
)
AORTA_AND_ATRIUM = LayerModel(
    layers=("before", "blood", "muscle", "blood", "muscle", "blood", "beyond"),
    edges=("faint fall", "rise", "fall", "rise", "fall", "rise"),
    thinnest_cm=(0.25, 0.06, 0.35, 0.06, 0.35),
    thickest_cm=(20.0, 0.45, 20.0, 0.45, 20.0),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerOptions:
    """How the layers are told apart. Change these, not the code."""

    row_cm: float = 0.05  # size of a coarse row
    column_s: float = 0.010  # duration of a coarse column
    columns: int = 320  # most coarse columns
    blur_cm: float = 0.06  # speckle is averaged over this depth
    weight_per_cm: float = 12.0  # what a centimetre of the wrong brightness costs
    line_in_blood: float = 1.0  # the same for muscle where blood should be, as a factor
    line_in_wall: float = 0.2  # the same for a bright line inside the free wall, as a factor
    blood_in_wall: float = 4.0  # what blood inside the free wall costs beyond that
    edge: float = 1.5  # what a full step of brightness at a boundary gains
    line: float = 6.0  # what the bright line behind the free wall gains
    drop: float = 1.5  # weight of the darkness behind that line
    pericardium_cm: float = 0.14  # thickness of the bright line behind the free wall
    speed_cm_s: float = 10.0  # usual speed of a boundary
    top_speed_cm_s: float = 24.0  # no boundary moves faster
    model: LayerModel = LEFT_VENTRICLE
    rounds: int = 3  # how often depth and time exchange messages


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """Boundaries in rows and columns of the full picture, and the grey levels."""

    rows: Floats  # (boundaries, columns) in the order of the model
    blood: float  # grey level of blood
    tissue: float  # grey level of muscle
    bright: float  # grey level of the pericardium
    score: float  # gain over a picture of nothing, a column


def find_layers(
    grey: Greys, *, cm_per_row: float, s_per_column: float, options: LayerOptions
) -> Layers:
    """Find the layers of an M-mode.

    Parameters
    ----------
    grey : (rows, columns)
        Brightness 0 to 255, depth downwards.
    cm_per_row, s_per_column : float
        Scale of the picture.
    options : LayerOptions

    Raises
    ------
    NotMeasurable
        When the picture is too shallow or has no contrast.
    """
    coarse, row_cm, column_s = _shrink(grey, cm_per_row, s_per_column, options)
    if coarse.shape[0] < 30 or coarse.shape[1] < 8:
        raise NotMeasurable(
            "the M-mode region is under 1.5 cm deep or too short to hold a heart; "
            "check its scale"
        )
    height = coarse.shape[0]
    blood, tissue, bright = _levels(coarse)
    if tissue - blood < 12:
        raise NotMeasurable(
            "blood and muscle cannot be told apart on this M-mode; raise the gain"
        )
    cubed = (grey**3 / 255**2).astype(np.float32)
    white, _, _ = _shrink(cubed, cm_per_row, s_per_column, options)
    line = _line(white, coarse > (blood + tissue) / 2)
    coarse = _above_darkness(coarse, (blood + tissue) / 2, row_cm)
    gains = _gains(coarse, line[: len(coarse)], (blood, tissue, bright), row_cm, options)
    marginals = _exchange(gains, row_cm, column_s, options)
    smooth, reach = _motion(row_cm, column_s, options)
    rows = np.stack([best_path(-one, smooth=smooth, reach=reach) for one in marginals])
    return Layers(
        rows=_enlarge(rows, (height, coarse.shape[1]), grey.shape),
        blood=blood,
        tissue=tissue,
        bright=bright,
        score=float(marginals[2].max(axis=0).mean()),
    )


def _shrink(
    grey: Greys, cm_per_row: float, s_per_column: float, options: LayerOptions
) -> tuple[Floats, float, float]:
    height, width = grey.shape
    rows = min(height, max(1, round(height * cm_per_row / options.row_cm)))
    columns = min(
        width, options.columns, max(1, round(width * s_per_column / options.column_s))
    )
    coarse = cv2.resize(grey, (columns, rows), interpolation=cv2.INTER_AREA)
    row_cm, column_s = height * cm_per_row / rows, width * s_per_column / columns
    sigma = max(options.blur_cm / row_cm, 0.5)
    blurred = cv2.GaussianBlur(coarse, (0, 0), sigmaX=1.0, sigmaY=sigma)
    return blurred.astype(np.float64), row_cm, column_s


def _above_darkness(coarse: Floats, middle: float, row_cm: float) -> Floats:
    """Leave out the darkness under the deepest tissue; it is no cavity."""
    is_tissue = (coarse > middle).mean(axis=1) > TISSUE_SHARE
    last = int(np.flatnonzero(is_tissue)[-1]) if is_tissue.any() else len(coarse)
    return coarse[: max(last + round(0.3 / row_cm), 30)]


def _levels(coarse: Floats) -> tuple[float, float, float]:
    """Return the grey of blood, muscle and pericardium, by Otsu's threshold."""
    values = np.clip(coarse, 0, 255).astype(np.uint8)
    threshold, _ = cv2.threshold(values, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    low, high = values[values <= threshold], values[values > threshold]
    if low.size == 0 or high.size == 0:
        return 0.0, 0.0, 0.0
    blood, tissue = float(np.median(low)), float(np.median(high))
    bright = max(float(np.percentile(high, 98)), tissue + 0.25 * (tissue - blood))
    return blood, tissue, bright


@dataclass(frozen=True, slots=True)
class _Gains:
    """What each layer and each boundary gains at a row; (layers, rows, columns)."""

    layers: Floats  # summed from the top
    edges: Floats


def _gains(
    coarse: Floats,
    line: Floats,
    levels: tuple[float, float, float],
    row_cm: float,
    options: LayerOptions,
) -> _Gains:
    blood, tissue, bright = levels
    middle, half = (blood + tissue) / 2, (tissue - blood) / 2
    muscle = np.clip((coarse - middle) / half, -1, 1)
    each = options.weight_per_cm * row_cm
    tissue_gain = 0.5 * np.maximum(muscle, 0.0)  # alike in all tissue: the blood tells
    kinds = {
        "before": tissue_gain,
        "blood": -np.where(muscle > 0, options.line_in_blood, 1.0) * muscle,
        "muscle": tissue_gain + np.minimum(muscle, 0.0),
        "wall": 0.5 * muscle
        + options.blood_in_wall * np.minimum(muscle, 0.0)
        - options.line_in_wall * np.maximum(line, 0.0),
        "beyond": 0.5 * muscle,
    }
    layers = np.stack([kinds[kind] for kind in options.model.layers]) * each
    sums = np.cumsum(layers, axis=1) - layers
    size = max(1, round(0.1 / row_cm))
    rise = options.edge * np.clip(_step(coarse, size) / (2 * half), -1, 1)
    to_bright = options.edge * np.clip(_step(coarse, size) / (bright - tissue), -1, 1)
    thick = max(1, round(options.pericardium_cm / row_cm))
    edges = {
        "rise": rise,
        "fall": -rise,
        "faint fall": -0.5 * rise,
        "line": options.line * _line_over_rest(line, thick, options.drop) + to_bright,
    }
    return _Gains(sums, np.stack([edges[edge] for edge in options.model.edges]))


def _line(white: Floats, is_tissue: Bools) -> Floats:
    """Return -1 for muscle to 1 for a bright line; the third power tells white from grain."""
    if not is_tissue.any():
        return np.full_like(white, -1.0)
    usual = float(np.median(white[is_tissue]))
    bright = max(float(np.percentile(white[is_tissue], 98)), 1.25 * usual + 1.0)
    return np.asarray(np.clip((2 * white - usual - bright) / (bright - usual), -1, 1))


def _line_over_rest(line: Floats, thick: int, drop: float) -> Floats:
    """Return how bright a line is, the more so when it is darker behind it."""
    here = _mean_below(line, thick)
    behind = _mean_below(line, 2 * thick)
    behind = np.concatenate([behind[thick:], behind[-1:].repeat(thick, axis=0)])
    return np.asarray(here + drop * (here - behind))


def _step(image: Floats, size: int) -> Floats:
    """Return mean of ``size`` rows below minus that above each boundary before a row."""
    above = _mean_below(image[::-1], size)[::-1]
    return np.asarray(_mean_below(image, size) - np.concatenate([above[:1], above[:-1]]))


def _mean_below(image: Floats, size: int) -> Floats:
    padded = np.pad(image, ((0, size), (0, 0)), mode="edge")
    sums = np.cumsum(np.pad(padded, ((1, 0), (0, 0))), axis=0)
    return np.asarray((sums[size:] - sums[:-size])[: image.shape[0]] / size)


def _exchange(gains: _Gains, row_cm: float, column_s: float, options: LayerOptions) -> Floats:
    limits = [
        (max(1, round(least / row_cm)), max(2, round(most / row_cm)))
        for least, most in zip(
            options.model.thinnest_cm, options.model.thickest_cm, strict=True
        )
    ]
    smooth, reach = _motion(row_cm, column_s, options)
    messages = np.zeros_like(gains.edges)
    marginals = _along_depth(gains, messages, limits)
    for _ in range(options.rounds - 1):
        messages = 0.8 * _along_time(marginals - messages, smooth, reach)
        marginals = _along_depth(gains, messages, limits)
    return marginals


def _along_depth(gains: _Gains, messages: Floats, limits: list[tuple[int, int]]) -> Floats:
    """Return the best score of a whole column for each row of each boundary."""
    edges = gains.edges + messages
    count = edges.shape[0]
    down = [edges[0] + gains.layers[0]]
    for k in range(1, count):
        above = _best_above(down[-1] - gains.layers[k], *limits[k - 1])
        down.append(above + gains.layers[k] + edges[k])
    total = gains.layers[-1][-1:]
    up = [total - gains.layers[-1]]
    for k in range(count - 1, 0, -1):
        reward = up[-1] + edges[k] + gains.layers[k]
        below = _best_above(reward[::-1], *limits[k - 1])[::-1]
        up.append(below - gains.layers[k])
    return np.asarray(np.stack(down) + np.stack(up[::-1]))


def _best_above(image: Floats, least: int, most: int) -> Floats:
    """Return the greatest value from ``most`` to ``least`` rows above each row."""
    height = image.shape[0]
    best = np.full_like(image, IMPOSSIBLE)
    if most >= height:
        best[least:] = np.maximum.accumulate(image, axis=0)[:-least]
        return best
    padded = np.pad(image, ((most, 0), (0, 0)), constant_values=IMPOSSIBLE)
    windows = sliding_window_view(padded, most - least + 1, axis=0)
    return np.asarray(windows[:height].max(axis=-1))


def _motion(row_cm: float, column_s: float, options: LayerOptions) -> tuple[float, int]:
    smooth = 0.5 * (row_cm / (options.speed_cm_s * column_s)) ** 2
    reach = int(np.clip(np.ceil(options.top_speed_cm_s * column_s / row_cm), 1, 12))
    return smooth, reach


def _along_time(scores: Floats, smooth: float, reach: int) -> Floats:
    """Return what the neighbouring columns say of each row, without the column's own word."""
    scores = np.maximum(scores - scores.max(axis=1, keepdims=True), -60.0)
    lanes = scores.transpose(2, 0, 1)
    count = lanes.shape[1]
    both = _sweep(np.concatenate([lanes, lanes[::-1]], axis=1), smooth, reach)
    messages = both[:, :count] + both[::-1, count:]
    return np.asarray(messages.transpose(1, 2, 0), dtype=np.float64)


def _sweep(lanes: Floats, smooth: float, reach: int) -> Floats:
    """Pass messages from column to column; ``lanes`` is (columns, lanes, rows)."""
    width, count, height = lanes.shape
    messages = np.zeros((width, count, height))
    padded = np.full((count, height + 2 * reach), -1e6)
    middle = padded[:, reach:-reach]
    for column in range(1, width):
        np.add(messages[column - 1], lanes[column - 1], out=middle)
        message = messages[column]
        message[:] = middle
        for step in range(1, reach + 1):
            further = np.maximum(
                padded[:, reach - step : reach - step + height],
                padded[:, reach + step : reach + step + height],
            )
            further -= smooth * step**2
            np.maximum(message, further, out=message)
        message -= message.max(axis=1, keepdims=True)
    return messages


def _enlarge(rows: Floats, coarse: tuple[int, ...], full: tuple[int, ...]) -> Floats:
    """Bring rows of the coarse picture to rows and columns of the full one."""
    by_row, by_column = full[0] / coarse[0], full[1] / coarse[1]
    centres = (np.arange(coarse[1]) + 0.5) * by_column - 0.5
    columns = np.arange(full[1])
    return np.stack([np.interp(columns, centres, one * by_row) for one in rows]) - 0.5
