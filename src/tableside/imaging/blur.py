"""How far the grey edge of a spectrum lies outside the true one, by the blur it shows.

A spectrum is the power of the echoes on a logarithmic grey scale, so the grey edge lies where
the power has fallen to the noise, far out on the blurred flank. The true speed is where the
power has fallen to half. The image itself says how far that is: the width of its flank, and
the grain of the signal, whose size in decibel physics fixes, as the unit of its grey scale.
"""

from dataclasses import dataclass

import numpy as np

from tableside.imaging.types import Bools, Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class BlurOptions:
    """How the flank is measured. Change these, not the code."""

    reach_rows: float = 0.12  # rows on either side of the edge that are looked at
    top: float = 0.75  # share of the largest height above which is the top of a flow
    flank: float = 0.30  # between this share and ``top`` are its flanks
    wave: float = 0.20  # of the largest height: what stays above belongs to one wave
    tall: float = 0.80  # of the largest height: a tall wave
    least_columns: int = 6
    share_at_once: float = 0.29  # k = share_at_once + share_a_grain * (range / grain)
    share_a_grain: float = 0.111  # fitted on spectra with known edges
    least_share: float = 0.35
    most_share: float = 1.15
    steep: float = 1.1  # factor for flanks, where the window of time blurs too
    white: float = 235.0  # a signal brighter than this has lost its grain
    white_share: float = 0.60
    full: float = 250.0  # a pixel brighter than this is full
    full_from: float = 0.40  # share of full pixels from which the true peak hides above white
    full_to: float = 0.60
    full_share: float = 1.45
    dark: float = 60.0  # a signal no brighter than this shows its loudest part alone
    dim: float = 120.0  # from here on it is seen as a whole
    narrow: float = 1.0  # factor for a narrow band of speeds (tissue)


@dataclass(frozen=True, slots=True)
class Flank:
    """The mean grey profile across the edge of some columns.

    ``middle_px`` is where it crosses half, from the cut outwards; ``width_px`` from three
    quarters to one quarter; ``share`` times the width is how far inside the true edge lies.
    """

    middle_px: float
    width_px: float
    share: float

    @property
    def offset_px(self) -> float:
        """From the cut to the true edge; negative is inwards."""
        return self.middle_px - self.share * self.width_px


@dataclass(frozen=True, slots=True)
class Correction:
    """What to add to every column, and the width of the flank there."""

    offset_px: Floats
    width_px: Floats
    top: Flank | None


def correct_edge(grey: Floats, cut: Floats, options: BlurOptions = BlurOptions()) -> Correction:
    """Find the distance from the cut to the true edge, column by column.

    Parameters
    ----------
    grey : (rows, columns)
        One side of the spectrum, not smoothed.
    cut : (columns,)
        Where signal and noise part, in rows; 0 where there is no flow.
    options : BlurOptions

    Returns
    -------
    Correction

    Notes
    -----
    Columns of alike place in their wave share one profile: the tops of tall and of small
    waves, rising and falling flanks. Between them the offset goes over linearly, and to zero
    at the baseline.
    """
    high = float(np.quantile(cut, 0.98))
    peak = _wave_height(cut, options.wave * high)
    share = cut / np.maximum(peak, 1e-9)
    slope = np.gradient(_smooth(cut))
    flank = (share > options.flank) & (share < options.top) & (peak > 0)
    tall, small = peak >= options.tall * high, (peak > 0) & (peak < options.tall * high)
    top = _flank(grey, cut, (share >= options.top) & tall, options)
    low = _flank(grey, cut, (share >= options.top) & small, options) or top
    rise = _steeper(_flank(grey, cut, flank & (slope > 0), options), options) or top
    fall = _steeper(_flank(grey, cut, flank & (slope <= 0), options), options) or top
    zero = np.zeros_like(cut)
    if top is None or low is None or rise is None or fall is None:
        return Correction(zero, zero, None)
    near_top = np.clip((share - 0.55) / 0.30, 0, 1)
    near_zero = np.clip(share / 0.25, 0, 1)
    beside = np.where(slope > 0, rise.offset_px, fall.offset_px)
    width = np.where(slope > 0, rise.width_px, fall.width_px)
    above = np.where(tall, top.offset_px, low.offset_px)
    above_width = np.where(tall, top.width_px, low.width_px)
    offset = near_zero * (near_top * above + (1 - near_top) * beside)
    return Correction(offset, near_top * above_width + (1 - near_top) * width, top)


def _wave_height(cut: Floats, floor: float) -> Floats:
    """Return, for every column, the height of the wave it belongs to; 0 between waves.

    A wave ends where the height falls below the floor, or in a valley.
    """
    smooth = _smooth(cut, 5)
    before = np.zeros_like(cut)
    after = np.zeros_like(cut)
    for heights, order in ((before, range(cut.size)), (after, range(cut.size - 1, -1, -1))):
        highest = lowest = 0.0
        for i in order:
            lowest = min(lowest, smooth[i])
            if smooth[i] > 1.4 * lowest and lowest < 0.7 * highest:
                highest = lowest = smooth[i]  # out of a valley: the next wave
            if smooth[i] > highest:
                highest = lowest = smooth[i]
            if smooth[i] <= floor:
                highest = lowest = 0.0
            heights[i] = highest
    return np.maximum(before, after)


def _flank(grey: Floats, cut: Floats, chosen: Bools, options: BlurOptions) -> Flank | None:
    """Return the mean flank of some columns, None when there are too few or none is seen."""
    columns = np.flatnonzero(chosen)
    if columns.size < options.least_columns:
        return None
    reach = max(8, round(options.reach_rows * grey.shape[0]))
    away = np.arange(-reach, reach + 1)
    rows = np.rint(cut[columns]).astype(np.int64) + away[:, None]
    inside = (rows >= 0) & (rows < grey.shape[0])
    values = np.where(inside, grey[np.clip(rows, 0, grey.shape[0] - 1), columns], np.nan)
    enough = inside.sum(axis=1) > 0.5 * columns.size
    if enough.sum() < reach:
        return None
    profile = _smooth(np.nanmean(values[enough], axis=1), 3)
    steps = away[enough] - float((cut[columns] - np.rint(cut[columns])).mean())
    peak = int(profile[steps <= 2].argmax())
    noise = float(np.median(profile[-max(4, reach // 4) :]))
    span = float(profile[peak]) - noise
    if span < 8:
        return None
    places = [_crossing(steps, (profile - noise) / span, peak, at) for at in (0.75, 0.5, 0.25)]
    inner = values[enough][max(0, peak - 3) : peak + 4]
    share = options.narrow * _share(inner, (float(profile[peak]), span), options)
    return Flank(places[1], max(places[2] - places[0], 0.5), share)


def _share(inner: Floats, level: tuple[float, float], options: BlurOptions) -> float:
    """Return how many widths inside its middle the true edge lies.

    ``inner`` are the pixels of the signal, ``level`` its brightness and its step over the
    noise. A signal that is white throughout would be brighter still, and its edge lies farther
    in; of a dark one only the loudest part is seen at all, and nothing is taken off.
    """
    brightness, span = level
    grain = max(float(np.nanstd(inner)), 1.0)
    share = options.share_at_once + options.share_a_grain * span / grain
    if brightness > options.white:
        share = options.white_share
    share = float(np.clip(share, options.least_share, options.most_share))
    full = float(np.nanmean(inner >= options.full))
    part = (full - options.full_from) / (options.full_to - options.full_from)
    share += (options.full_share - share) * float(np.clip(part, 0.0, 1.0))
    seen = (brightness - options.dark) / (options.dim - options.dark)
    return share * float(np.clip(seen, 0.0, 1.0))


def _steeper(flank: Flank | None, options: BlurOptions) -> Flank | None:
    if flank is None:
        return None
    return Flank(flank.middle_px, flank.width_px, options.steep * flank.share)


def _crossing(steps: Floats, level: Floats, start: int, wanted: float) -> float:
    """Return where the profile falls through a level, going outwards from its peak."""
    for i in range(start + 1, level.size):
        if level[i] <= wanted:
            part = (level[i - 1] - wanted) / max(level[i - 1] - level[i], 1e-9)
            return float(steps[i - 1] + part * (steps[i] - steps[i - 1]))
    return float(steps[-1])


def _smooth(values: Floats, width: int = 7) -> Floats:
    padded = np.pad(values, width // 2, mode="edge")
    return np.convolve(padded, np.ones(width) / width, mode="valid")
