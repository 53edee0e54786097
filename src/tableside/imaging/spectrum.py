"""Take a spectral Doppler picture apart: the two sides of the baseline, free of overlays.

Row 0 of a side touches the baseline and rows grow away from it, so both sides read alike.
"""

from dataclasses import dataclass

import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.types import Bools, Floats, Pixels


@dataclass(frozen=True, slots=True, kw_only=True)
class SpectrumOptions:
    """What is spectrum and what was drawn over it. Change these, not the code."""

    overlay_chroma: float = 50.0  # a coloured pixel in a grey spectrum was drawn over it
    tinted: float = 0.35  # above this share of coloured bright pixels the spectrum is tinted
    least_tint: float = 0.05  # and they are this share of all: more than drawn lines
    bright: float = 60.0  # grey level of a bright pixel
    fill_sigma_px: float = 2.5  # overlays are filled from this far around
    baseline_px: int = 2  # rows beside the baseline that the drawn line may cover
    least_rows: int = 12  # a side with fewer rows shows nothing


@dataclass(frozen=True, slots=True)
class Side:
    """One side of the baseline. ``first_px`` is the distance of row 0 from the baseline."""

    grey: Floats  # (rows, columns), 0 to 255
    first_px: float

    @property
    def is_shown(self) -> bool:
        """Whether the side has rows at all."""
        return bool(self.grey.shape[0] > 0)


@dataclass(frozen=True, slots=True)
class Sides:
    """Both sides of one spectrum; ``up`` is towards the probe."""

    up: Side
    down: Side


def split_sides(
    band: Pixels,
    baseline_px: float,
    covered: Bools | None = None,
    options: SpectrumOptions = SpectrumOptions(),
) -> Sides:
    """Return the two sides of a spectrum as grey, with coloured overlays filled in.

    Parameters
    ----------
    band : (rows, columns, 3) or (rows, columns)
        The spectrum alone.
    baseline_px : float
        Row of zero velocity, from the top of the band.
    covered : (rows, columns) or None
        What else was drawn over the spectrum, in any colour: a white electrocardiogram.
    options : SpectrumOptions

    Raises
    ------
    NotMeasurable
        When the baseline lies so that neither side has rows.
    """
    grey = _without_overlays(band, covered, options)
    above = int(np.ceil(baseline_px)) - 1  # the last row fully above the baseline
    below = int(np.floor(baseline_px)) + 1
    rows = grey.shape[0]
    up = grey[: max(0, min(above + 1, rows))][::-1]
    down = grey[max(0, min(below, rows)) :]
    if max(up.shape[0], down.shape[0]) < options.least_rows:
        raise NotMeasurable("the baseline of the spectrum lies outside of it; check the scale")
    return Sides(
        Side(_under_line(up, options.baseline_px), baseline_px - above),
        Side(_under_line(down, options.baseline_px), below - baseline_px),
    )


def opposite(side: Side, other: Side) -> Floats:
    """Return the other side at the same speeds, 0 where it ends."""
    mirrored = np.zeros_like(side.grey)
    rows = min(side.grey.shape[0], other.grey.shape[0])
    mirrored[:rows] = other.grey[:rows]
    return mirrored


def _without_overlays(band: Pixels, drawn: Bools | None, options: SpectrumOptions) -> Floats:
    drawn = np.zeros(band.shape[:2], dtype=bool) if drawn is None else drawn
    if band.ndim == 2:
        return _filled(band.astype(np.float64), drawn, options.fill_sigma_px)
    brightest, darkest = band.max(axis=2), band.min(axis=2)
    coloured = (brightest.astype(np.int16) - darkest) > options.overlay_chroma
    bright = brightest > options.bright
    tint = coloured & bright
    if tint.mean() > options.least_tint and tint.sum() > options.tinted * bright.sum():
        return _filled(np.asarray(brightest, dtype=np.float64), drawn, options.fill_sigma_px)
    grey = band.astype(np.float64) @ np.array([0.299, 0.587, 0.114])
    return _filled(grey, coloured | drawn, options.fill_sigma_px)


def _filled(grey: Floats, covered: Bools, sigma_px: float) -> Floats:
    """Return the picture with covered pixels replaced by what lies around them."""
    import cv2  # noqa: PLC0415  (slow to import)

    if not covered.any():
        return grey
    rim = cv2.dilate(covered.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    known = (~rim).astype(np.float64)
    around = cv2.GaussianBlur(grey * known, (0, 0), sigma_px)
    weight = cv2.GaussianBlur(known, (0, 0), sigma_px)
    filled = np.asarray(around / np.maximum(weight, 1e-6))
    return np.asarray(np.where(rim, filled, grey))


def _under_line(grey: Floats, rows: int) -> Floats:
    """Return the side with the rows that the drawn baseline covers copied from beyond it."""
    if grey.shape[0] <= rows:
        return grey
    clean = grey.copy()
    clean[:rows] = grey[rows]
    return clean
