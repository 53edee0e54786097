"""One ultrasound line through moving layers, over time: the picture of an M-mode.

Layers hold scatterers that move with them and keep their grain for a while; between layers
lie mirrors, the specular echoes of smooth surfaces. The sum is blurred by the pulse with its
phase, gets the noise of the machine, and goes through the log curve.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from tableside.phantom.speckle import (
    Display,
    axial_sigma_cm,
    circular_noise,
    convolve_rows,
    drifting_noise,
    gaussian,
    grey,
    slow_db,
    texture_db,
)
from tableside.phantom.types import Complexes, Floats

NOWHERE_DB = -300.0
LINE_FLICKER_DB = 3.0
LINE_FLICKER_S = 0.04
TEXTURE_CM = 0.06  # size of the bright and dark bands in muscle


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """A slab of tissue or blood. Depths in cm from the skin, one a column.

    ``memory_s`` is how long its grain lasts, one number or one a column; ``texture_db`` how
    much the strength of its echoes varies with depth.
    """

    top_cm: Floats
    bottom_cm: Floats
    level_db: Floats
    memory_s: float | Floats = 0.08
    texture_db: float = 0.0
    fade_db_per_cm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Mirror:
    """A smooth surface across the beam. ``level_db`` is the height of its echo."""

    depth_cm: Floats
    level_db: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Beam:
    """The line and the screen it is drawn on."""

    rows: int
    columns: int
    cm_per_row: float
    s_per_column: float
    skin_row: float = 0.0
    frequency_mhz: float = 5.0
    snr_db: float = 28.0
    display: Display = field(default_factory=Display)


def draw_mline(
    layers: Sequence[Layer], mirrors: Sequence[Mirror], beam: Beam, rng: np.random.Generator
) -> Floats:
    """Return the grey levels (rows, columns), not rounded.

    Where layers overlap the later one hides the earlier.
    """
    sigma_cm = axial_sigma_cm(beam.frequency_mhz)
    fine = max(3, int(np.ceil(2 * beam.cm_per_row / sigma_cm)))
    fine += 1 - fine % 2
    step_cm = beam.cm_per_row / fine
    depth_cm = np.asarray(
        (np.arange(beam.rows * fine) - fine // 2) * step_cm - beam.skin_row * beam.cm_per_row,
        dtype=np.float64,
    )
    kernel = gaussian(sigma_cm / step_cm)
    echo = np.zeros((len(depth_cm), beam.columns), dtype=np.complex64)
    for layer in layers:
        _fill(echo, layer, depth_cm, beam, rng)
    for mirror in mirrors:
        _reflect(echo, mirror, depth_cm, float(kernel.max()), (beam, rng))
    echo = convolve_rows(echo, kernel)
    echo += _machine_noise(echo.shape, depth_cm, beam, rng)
    echo[depth_cm < -step_cm] = 0
    level = grey(np.abs(echo).astype(np.float64), beam.display)
    return np.asarray(level.reshape(beam.rows, fine, beam.columns).mean(axis=1))


def _fill(
    echo: Complexes, layer: Layer, depth_cm: Floats, beam: Beam, rng: np.random.Generator
) -> None:
    """Put a layer's scatterers where the layer is; they stretch with it."""
    step_cm = depth_cm[1] - depth_cm[0]
    thickness_cm = np.maximum(layer.bottom_cm - layer.top_cm, 1e-9)
    points = max(2, int(np.median(thickness_cm) / step_cm))
    memory = np.full(beam.columns, layer.memory_s) / beam.s_per_column
    noise = drifting_noise(points, memory, rng)
    if layer.texture_db > 0:
        grain = layer.texture_db * texture_db(points, TEXTURE_CM / step_cm, rng)
        noise = noise * np.power(10.0, grain / 20).astype(np.float32)[:, None]
    first = int(np.clip(np.searchsorted(depth_cm, layer.top_cm.min()), 0, len(depth_cm)))
    last = int(np.clip(np.searchsorted(depth_cm, layer.bottom_cm.max()), 0, len(depth_cm)))
    below_cm = depth_cm[first:last, None] - layer.top_cm
    share = below_cm / thickness_cm
    inside = (share >= 0) & (share < 1)
    index = np.clip((share * points).astype(np.int64), 0, points - 1)
    level_db = layer.level_db - layer.fade_db_per_cm * below_cm
    size = np.power(10.0, np.clip(level_db, -120, 60) / 20).astype(np.float32)
    drawn = np.take_along_axis(noise, index, axis=0) * size
    part = echo[first:last]
    part[inside] = drawn[inside]


def _reflect(
    echo: Complexes,
    mirror: Mirror,
    depth_cm: Floats,
    kernel_peak: float,
    machine: tuple[Beam, np.random.Generator],
) -> None:
    """Add a surface's echo, shared between the two nearest samples."""
    beam, rng = machine
    memory = LINE_FLICKER_S / beam.s_per_column
    flicker_db = LINE_FLICKER_DB * slow_db(beam.columns, memory, rng)
    turn = 0.8 * slow_db(beam.columns, memory, rng) + rng.uniform(0, 2 * np.pi)
    size = np.power(10.0, (mirror.level_db + flicker_db) / 20) / kernel_peak * np.exp(1j * turn)
    place = (mirror.depth_cm - depth_cm[0]) / (depth_cm[1] - depth_cm[0])
    upper = np.floor(place).astype(np.int64)
    seen = (upper >= 0) & (upper < len(depth_cm) - 1) & (mirror.level_db > NOWHERE_DB / 2)
    column = np.flatnonzero(seen)
    share = (place - upper)[seen]
    echo[upper[seen], column] += (size[seen] * (1 - share)).astype(np.complex64)
    echo[upper[seen] + 1, column] += (size[seen] * share).astype(np.complex64)


def _machine_noise(
    shape: tuple[int, int], depth_cm: Floats, beam: Beam, rng: np.random.Generator
) -> Complexes:
    """Noise that the depth gain lifts: 5 dB below its mean at the skin, 5 dB above below."""
    share = np.clip(depth_cm / depth_cm[-1], 0, 1)
    level_db = -beam.snr_db - 5 + 10 * share
    size = np.power(10.0, level_db / 20).astype(np.float32)[:, None]
    return np.asarray(circular_noise(shape, rng) * size)
