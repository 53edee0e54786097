"""One interface, to a fraction of a row: a band around a coarse line, straightened.

In the band the interface is nearly level, so the picture can be averaged along time without
smearing the motion. Where grey rises (or falls) by half is found by dynamic programming; the
spread over all lines is its uncertainty before calibration.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from tableside.imaging.mmode_grey import Greys
from tableside.imaging.paths import lane_marginals
from tableside.imaging.types import Floats

LINE_STEP = 0.15  # how far a line must outshine the muscle, in shares of muscle minus blood
THICKEST_LINE_CM = 0.15  # what is thicker is no surface
FAR_BLUR, NEAR_BLUR = 2.05, 1.35  # pulse widths that a line gains behind and before
LINE_BLUR = FAR_BLUR + NEAR_BLUR


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeOptions:
    """How one interface is refined. Change these, not the code."""

    band_cm: float = 0.26  # how far the interface may lie from the coarse line
    margin_cm: float = 0.22  # what the picture is looked at beyond that
    along_s: float = 0.010  # averaging along the interface, standard deviation
    blur_cm: float = 0.018  # averaging across it, standard deviation
    gradient: float = 14.0  # what the steepest place gains
    side: float = 50.0  # what a centimetre of the wrong brightness costs
    speed_cm_s: float = 2.0  # usual speed against the coarse line
    temperature: float = 2.0  # cost that makes a line e times less likely


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """An interface in every column; rows of the picture."""

    row: Floats  # where grey has risen by half
    sd_px: Floats  # spread of the posterior, rows
    contrast: Floats  # step of grey over the interface, in shares of muscle minus blood


@dataclass(frozen=True, slots=True)
class _Band:
    """The straightened picture around a line; row ``centre`` is the line."""

    grey: Floats
    centre: int
    reach: int


@dataclass(frozen=True, slots=True)
class EdgeSearch:
    """A rise of grey to be found near a line.

    ``grey`` is (rows, columns), upside down, with its line, to find a fall. ``line`` is the row
    near which the interface lies, give or take ``loose_cm``. ``levels`` are the grey before
    and behind it.
    """

    grey: Greys
    line: Floats
    levels: tuple[float, float]
    loose_cm: float = np.inf


def refine_edges(
    searches: Sequence[EdgeSearch], scale: tuple[float, float], options: EdgeOptions
) -> list[Edge]:
    """Find rises of grey, each near its line.

    Parameters
    ----------
    searches : sequence of EdgeSearch
    scale : float, float
        Centimetres a row, seconds a column.
    options : EdgeOptions
    """
    cm_per_row, s_per_column = scale
    lines = [_smooth(one.line, 0.012 / s_per_column) for one in searches]
    bands = [
        _straighten(one.grey, line, scale, options)
        for one, line in zip(searches, lines, strict=True)
    ]
    gains = [
        _gain(band, one.levels, cm_per_row, options)
        - options.temperature * _away(band, float(np.hypot(one.loose_cm / cm_per_row, 0.5)))
        for one, band in zip(searches, bands, strict=True)
    ]
    step = cm_per_row / (options.speed_cm_s * s_per_column)
    weights = lane_marginals(
        -np.stack(gains),
        smooth=0.5 * options.temperature * step**2,
        reach=int(np.clip(np.ceil(3 / step), 1, 6)),
        temperature=options.temperature,
    )
    return [
        _edge(band, weight, one.levels, line, cm_per_row)
        for band, weight, one, line in zip(bands, weights, searches, lines, strict=True)
    ]


def _edge(
    band: _Band,
    weights: Floats,
    levels: tuple[float, float],
    line: Floats,
    cm_per_row: float,
) -> Edge:
    offsets = np.arange(-band.reach, band.reach + 1, dtype=np.float64)
    mean = offsets @ weights
    sd = np.sqrt(np.maximum(offsets**2 @ weights - mean**2, 0.0) + 1 / 12)
    row, contrast = _half_rise(band, mean, levels, cm_per_row)
    return Edge(row=line + row, sd_px=sd, contrast=contrast)


def _smooth(line: Floats, sigma: float) -> Floats:
    if sigma < 0.3:
        return line
    blurred = cv2.GaussianBlur(
        line[None].astype(np.float64), (0, 0), sigmaX=sigma, borderType=cv2.BORDER_REFLECT
    )
    return np.asarray(blurred[0], dtype=np.float64)


def straighten(grey: Greys, line: Floats, offsets: range) -> Greys:
    """Return the picture at these offsets (rows) from a line; (offsets, columns)."""
    rows = (line + np.arange(offsets.start, offsets.stop)[:, None]).astype(np.float32)
    columns = np.broadcast_to(np.arange(grey.shape[1], dtype=np.float32), rows.shape)
    flat = cv2.remap(
        np.ascontiguousarray(grey, dtype=np.float32),
        np.ascontiguousarray(columns),
        rows,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(flat, dtype=np.float32)


def line_thickness(
    grey: Greys, far_flank: Floats, scale_cm: float, pulse_cm: float, step: float
) -> float | None:
    """Return the thickness in cm of a bright line that lies against muscle on the near side.

    Parameters
    ----------
    grey : (rows, columns)
    far_flank : (columns,)
        Row where grey has fallen by half behind the line.
    scale_cm : float
        Centimetres a row.
    pulse_cm : float
        Standard deviation of the pulse; what it adds to the line is taken off.
    step : float
        Grey of muscle minus blood.

    Returns
    -------
    float or None
        None where the line cannot be told from the muscle.
    """
    near, muscle = (max(1, round(cm / scale_cm)) for cm in (0.18, 0.45))
    profile = straighten(grey, far_flank, range(-muscle, 1)).mean(axis=1)
    level = float(np.median(profile[: muscle - near]))
    peak = muscle
    while peak > muscle - near and profile[peak - 1] > profile[peak]:
        peak -= 1  # the first maximum from the far flank
    if profile[peak] - level < LINE_STEP * step:
        return None
    half = (profile[peak] + level) / 2
    before = np.flatnonzero(profile[:peak] < half)
    if before.size == 0 or peak - before[-1] > near:
        return None
    at = int(before[-1])
    start = at + float((half - profile[at]) / (profile[at + 1] - profile[at]))
    whole_cm = (muscle - start) * scale_cm - LINE_BLUR * pulse_cm
    half_cm = (
        muscle - peak
    ) * scale_cm - FAR_BLUR * pulse_cm  # a line is brightest in its middle
    thickness_cm = max(min(whole_cm, 2 * half_cm), 0.0)
    return thickness_cm if thickness_cm < THICKEST_LINE_CM else None


def _straighten(
    grey: Greys, line: Floats, scale: tuple[float, float], options: EdgeOptions
) -> _Band:
    cm_per_row, s_per_column = scale
    reach = max(2, round(options.band_cm / cm_per_row))
    centre = reach + max(2, round(options.margin_cm / cm_per_row))
    raw = straighten(grey, line, range(-centre, centre + 1))
    along = max(options.along_s / s_per_column, 0.8)
    across = max(options.blur_cm / cm_per_row, 0.35)
    flat = cv2.GaussianBlur(raw, (0, 0), sigmaX=along, sigmaY=across)
    return _Band(flat.astype(np.float64), centre, reach)


def _gain(
    band: _Band, levels: tuple[float, float], cm_per_row: float, options: EdgeOptions
) -> Floats:
    """Gain of each row of the band as the place where grey has risen by half."""
    before, behind = levels
    half = (behind - before) / 2
    share = np.clip((band.grey - (before + behind) / 2) / half, -1, 1)
    sums = np.cumsum(share, axis=0) * cm_per_row * options.side
    total = sums[-1:]
    sides = total - 2 * sums + share * cm_per_row * options.side  # bright behind, dark before
    slope = np.gradient(band.grey, axis=0) * (0.03 / cm_per_row) / (2 * half)
    window = slice(band.centre - band.reach, band.centre + band.reach + 1)
    return 0.5 * sides[window] + options.gradient * np.clip(slope[window], -0.3, 1.0)


def _away(band: _Band, loose_px: float) -> Floats:
    """Return half the square of the distance from the coarse line, in standard deviations."""
    return np.asarray(0.5 * (np.arange(-band.reach, band.reach + 1)[:, None] / loose_px) ** 2)


def _half_rise(
    band: _Band, mean: Floats, levels: tuple[float, float], cm_per_row: float
) -> tuple[Floats, Floats]:
    """Return where each column crosses half of its own rise, and how high the rise is."""
    near = max(1, round(0.05 / cm_per_row))
    far = max(near + 1, round(0.14 / cm_per_row))
    columns = np.arange(band.grey.shape[1])
    place = np.clip(
        np.round(mean).astype(np.int64) + band.centre, far, len(band.grey) - far - 1
    )
    above = np.mean([band.grey[place - k, columns] for k in range(near + 1, far + 1)], axis=0)
    peak = np.max([band.grey[place + k, columns] for k in range(far)], axis=0)
    half = (above + peak) / 2
    best = mean.copy()
    gap = np.full(mean.shape, np.inf)
    for k in range(-near - 1, near + 1):
        low, high = band.grey[place + k, columns], band.grey[place + k + 1, columns]
        crosses = (low < half) & (high >= half)
        share = (half - low) / np.maximum(high - low, 1e-6)
        at = place + k + share - band.centre
        closer = crosses & (np.abs(at - mean) < gap)
        best[closer], gap[closer] = at[closer], np.abs(at - mean)[closer]
    return best, (peak - above) / (levels[1] - levels[0])
