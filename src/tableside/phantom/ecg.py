"""The electrocardiogram of a dog, and how it is drawn on an image.

A beat is a sum of five Gaussians (P, Q, R, S, T). Widths and intervals are those of dogs in
lead II: P 40 ms, PR 100 ms, QRS 50 ms, QT 200 ms. Source: memory.
"""

from dataclasses import dataclass

import numpy as np

from tableside.phantom.rhythm import HeartBeat
from tableside.phantom.types import Floats, Pixels

# name: (centre after R in s, width sigma in s, height as a share of R)
WAVES = {
    "P": (-0.105, 0.011, 0.14),
    "Q": (-0.016, 0.0045, -0.12),
    "R": (0.0, 0.0065, 1.0),
    "S": (0.015, 0.005, -0.18),
    "T": (0.155, 0.020, 0.16),
}
ECTOPIC = {"R": (0.008, 0.022, 1.25), "S": (0.055, 0.020, -0.45), "T": (0.180, 0.032, -0.35)}


@dataclass(frozen=True, slots=True, kw_only=True)
class EcgStyle:
    """How the trace looks."""

    colour: tuple[int, int, int] = (96, 232, 96)
    width_px: float = 1.3
    amplitude_px: float = 22.0
    noise: float = 0.012
    wander: float = 0.04


def electrocardiogram(
    time_s: Floats, beats: tuple[HeartBeat, ...], rng: np.random.Generator, style: EcgStyle
) -> Floats:
    """Return the voltage at each time as a share of a usual R wave."""
    volts = np.zeros_like(time_s)
    for beat in beats:
        waves = ECTOPIC if beat.premature else WAVES
        stretch = float(np.clip(np.sqrt(beat.rr_before_s / 0.55), 0.75, 1.3))
        height = float(np.exp(rng.normal(0, 0.03)))
        for name, (centre_s, sigma_s, share) in waves.items():
            if name == "P" and not _has_p(beat, beats):
                continue
            at_s = beat.r_s + centre_s * (stretch if name in "PT" else 1.0)
            volts += height * share * np.exp(-0.5 * ((time_s - at_s) / sigma_s) ** 2)
    breath = np.sin(2 * np.pi * (0.4 * time_s + rng.uniform()))
    return np.asarray(volts + style.wander * breath + rng.normal(0, style.noise, time_s.shape))


def _has_p(beat: HeartBeat, beats: tuple[HeartBeat, ...]) -> bool:
    """Whether an atrial contraction leads to this beat: the beat before it says so."""
    earlier = [one for one in beats if one.r_s < beat.r_s]
    return earlier[-1].atrial if earlier else beat.atrial


def draw_line(pixels: Pixels, rows: Floats, style: EcgStyle) -> Pixels:
    """Draw one curve over an image, anti-aliased, one row position a column.

    Parameters
    ----------
    pixels : (rows, columns, 3)
    rows : (columns,)
        Row of the curve in each column; NaN leaves the column as it is.
    style : EcgStyle
    """
    cover = coverage(pixels.shape[:2], rows, style.width_px)[..., None]
    blended = pixels * (1 - cover) + np.array(style.colour) * cover
    return np.asarray(np.round(blended), dtype=np.uint8)


def coverage(shape: tuple[int, int], rows: Floats, width_px: float) -> Floats:
    """Return how much of each pixel a curve covers, 0 to 1."""
    half = (rows[1:] + rows[:-1]) / 2
    left = np.concatenate([rows[:1], half])
    right = np.concatenate([half, rows[-1:]])
    points = np.stack([left, rows, right])
    reach = width_px / 2
    top = points.min(axis=0) - reach
    bottom = points.max(axis=0) + reach
    row = np.arange(shape[0])[:, None]
    share = np.minimum(row + 0.5, bottom) - np.maximum(row - 0.5, top)
    return np.asarray(np.nan_to_num(np.clip(share, 0.0, 1.0)))
