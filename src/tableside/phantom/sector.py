"""A two-dimensional picture: beams through anatomy, grain, pulse, log curve, fan shape.

The picture is made along the beams (depth by angle) and then mapped to the screen, as a
machine does, so that its grain is fine near the probe and wide far away.
"""

from dataclasses import dataclass, field

import numpy as np

from tableside.phantom.speckle import (
    Display,
    axial_sigma_cm,
    circular_noise,
    convolve_rows,
    gaussian,
    grey,
)
from tableside.phantom.types import Complexes, Floats, Ints

BEAMS = 170
BEAM_SIGMA = 1.25  # lateral blur in beams
SAMPLES = 440
FRESH_MUSCLE = 0.06  # share of the grain that is new in each frame
NOISE_DB = -34.0
HAZE_SIGMA = 9.0  # side lobes: a weak, wide copy, in beams
HAZE_DB = -25.0
MUSCLE_GRAIN_DB = 4.5
MIRROR_GRAIN_DB = 6.0
MIRROR_SHARE = 0.13  # a surface seen through a beam of some width


@dataclass(frozen=True, slots=True, kw_only=True)
class Sector:
    """The fan on the screen. Rows and columns of the picture, its tip and its scale."""

    rows: int = 400
    columns: int = 480
    cm_per_px: float = 0.02
    tip_row: float = 4.0
    tip_column: float = 240.0
    half_angle_deg: float = 38.0
    frequency_mhz: float = 6.0
    display: Display = field(default_factory=Display)

    @property
    def depth_cm(self) -> float:
        """How deep the fan reaches."""
        return (self.rows - 1 - self.tip_row) * self.cm_per_px

    def beam_points(self) -> tuple[Floats, Floats]:
        """Return x and y in cm of every sample (samples, beams); y is depth from the tip."""
        angle = np.radians(np.linspace(-self.half_angle_deg, self.half_angle_deg, BEAMS))
        distance = np.linspace(0, self.depth_cm, SAMPLES)[:, None]
        return np.asarray(distance * np.sin(angle)), np.asarray(distance * np.cos(angle))

    def pixel(self, x_cm: float, y_cm: float) -> tuple[float, float]:
        """Return the pixel (x, y) of a place in the body."""
        return (
            self.tip_column + x_cm / self.cm_per_px,
            self.tip_row + y_cm / self.cm_per_px,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Anatomy:
    """What the beams meet (samples, beams), in dB over myocardium.

    ``level_db`` scatters, ``mirror_db`` reflects, ``is_blood`` has new grain in each frame.
    """

    level_db: Floats
    mirror_db: Floats
    is_blood: Floats


class SectorCamera:
    """Draws frame after frame; tissue keeps most of its grain between frames."""

    def __init__(self, sector: Sector, rng: np.random.Generator) -> None:
        self._sector = sector
        self._rng = rng
        self._grain = circular_noise((SAMPLES, BEAMS), rng)
        self._texture = smooth_field((SAMPLES, BEAMS), (9.0, 7.0), rng)
        self._index, self._weight, self._inside = _fan(sector)

    def draw(self, anatomy: Anatomy) -> Floats:
        """Return one frame of grey levels (rows, columns), black outside the fan."""
        fresh = circular_noise(self._grain.shape, self._rng)
        self._grain = np.asarray(
            np.sqrt(1 - FRESH_MUSCLE) * self._grain + np.sqrt(FRESH_MUSCLE) * fresh,
            dtype=np.complex64,
        )
        step_cm = self._sector.depth_cm / (SAMPLES - 1)
        grain = np.where(anatomy.is_blood > 0, fresh, self._grain)
        kernel = gaussian(max(0.8, axial_sigma_cm(self._sector.frequency_mhz) / step_cm))
        lateral = gaussian(BEAM_SIGMA)
        peak = float(kernel.max() * lateral.max())
        mirror = (
            _size(anatomy.mirror_db + MIRROR_GRAIN_DB * self._texture) / peak * MIRROR_SHARE
        )
        scattered = grain * _size(anatomy.level_db + MUSCLE_GRAIN_DB * self._texture)
        echo = np.asarray(scattered + mirror, dtype=np.complex64)
        across = np.ascontiguousarray(convolve_rows(echo, kernel).T)
        sharp = convolve_rows(across, lateral)
        haze = convolve_rows(across, gaussian(HAZE_SIGMA)) * np.float32(10 ** (HAZE_DB / 20))
        noise = circular_noise(echo.shape, self._rng) * np.float32(10 ** (NOISE_DB / 20))
        return self._to_screen(np.asarray((sharp + haze).T + noise, dtype=np.complex64))

    def _to_screen(self, echo: Complexes) -> Floats:
        level = grey(np.abs(echo).astype(np.float64), self._sector.display).ravel()
        drawn = (level[self._index] * self._weight).sum(axis=0)
        picture = np.zeros(self._inside.shape)
        picture[self._inside] = drawn
        return picture


def smooth_field(
    shape: tuple[int, int], sigma: tuple[float, float], rng: np.random.Generator
) -> Floats:
    """Return a smooth random field of unit standard deviation."""
    white = circular_noise(shape, rng)
    along = convolve_rows(white, gaussian(sigma[0]))
    across = convolve_rows(np.ascontiguousarray(along.T), gaussian(sigma[1])).T
    field = np.asarray(across.real, dtype=np.float64)
    return np.asarray(field / field.std())


def _size(level_db: Floats) -> Floats:
    return np.asarray(np.power(10.0, np.clip(level_db, -120, 60) / 20))


def _fan(sector: Sector) -> tuple[Ints, Floats, Floats]:
    """Bilinear look-up from screen to beams: indices (4, n), weights (4, n), mask."""
    row, column = np.mgrid[: sector.rows, : sector.columns]
    x = (column - sector.tip_column) * sector.cm_per_px
    y = (row - sector.tip_row) * sector.cm_per_px
    half = np.radians(sector.half_angle_deg)
    sample = np.hypot(x, y) / sector.depth_cm * (SAMPLES - 1)
    beam = (np.arctan2(x, y) / half + 1) / 2 * (BEAMS - 1)
    inside = (sample < SAMPLES - 1.001) & (beam >= 0) & (beam < BEAMS - 1) & (y > 0)
    sample, beam = sample[inside], beam[inside]
    near, left = np.floor(sample).astype(np.int64), np.floor(beam).astype(np.int64)
    down, right = sample - near, beam - left
    first = near * BEAMS + left
    index = np.stack([first, first + 1, first + BEAMS, first + BEAMS + 1])
    weight = np.stack(
        [(1 - down) * (1 - right), (1 - down) * right, down * (1 - right), down * right]
    )
    return index, weight, inside
