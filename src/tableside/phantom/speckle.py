"""How an ultrasound machine makes brightness: coherent sums, a pulse, a log curve.

Echoes of many scatterers in one pulse length add with their phases; the size of the sum then
has a Rayleigh distribution and the picture has grain. Moving tissue carries its grain along;
out-of-plane motion changes it with time.

Source: the statistics of speckle (Goodman; Wagner 1983), from memory.
"""

from dataclasses import dataclass

import numpy as np

from tableside.phantom.types import Complexes, Floats, Pixels

AXIAL_SIGMA_MM_MHZ = 0.65  # pulse of about two cycles: 0.13 mm at 5 MHz


@dataclass(frozen=True, slots=True, kw_only=True)
class Display:
    """From echo size to grey: 0 dB is the mean power of myocardium."""

    dynamic_range_db: float = 55.0
    top_db: float = 17.0  # white
    gain_db: float = 0.0
    curve: float = 1.8  # exponent of the grey curve


def axial_sigma_cm(frequency_mhz: float) -> float:
    """Return the standard deviation of the pulse along the beam."""
    return AXIAL_SIGMA_MM_MHZ / frequency_mhz / 10


def gaussian(sigma: float) -> Floats:
    """Return a Gaussian kernel of unit energy, so that it leaves white noise its power."""
    reach = int(np.ceil(3.5 * sigma))
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    return np.asarray(kernel / np.sqrt((kernel**2).sum()))


def convolve_rows(field: Complexes, kernel: Floats) -> Complexes:
    """Convolve along the first axis; outside the field there is nothing."""
    reach = len(kernel) // 2
    padded = np.pad(field, ((reach, reach), (0, 0)))
    result = np.zeros_like(field)
    for shift, weight in enumerate(kernel.astype(np.float32)):
        result += weight * padded[shift : shift + len(field)]
    return result


def circular_noise(shape: tuple[int, ...], rng: np.random.Generator) -> Complexes:
    """Return complex Gaussian noise of unit power."""
    parts = rng.standard_normal((2, *shape), dtype=np.float32) * np.float32(np.sqrt(0.5))
    return np.asarray(parts[0] + 1j * parts[1], dtype=np.complex64)


def drifting_noise(points: int, memory_columns: Floats, rng: np.random.Generator) -> Complexes:
    """Return complex noise (points, columns) of unit power that changes along the columns.

    ``memory_columns`` says, for each column, after how many such columns the correlation
    would be 1/e.
    """
    columns = len(memory_columns)
    noise = circular_noise((columns, points), rng)
    keep = np.exp(-1 / np.maximum(memory_columns, 0.05)).astype(np.float32)
    fresh = np.sqrt(1 - keep**2)
    for column in range(1, columns):
        noise[column] = keep[column] * noise[column - 1] + fresh[column] * noise[column]
    return noise.T


def texture_db(points: int, grain_points: float, rng: np.random.Generator) -> Floats:
    """Return how strongly tissue echoes along its depth: unit standard deviation, in grains."""
    return slow_db(points, max(grain_points, 1.0), rng)


def slow_db(columns: int, memory_columns: float, rng: np.random.Generator) -> Floats:
    """Return a slowly wandering level of unit standard deviation, one value a column."""
    reach = max(1, int(2 * memory_columns))
    kernel = np.hanning(2 * reach + 1)[1:-1] if reach > 1 else np.ones(1)
    white = rng.standard_normal(columns + len(kernel) - 1)
    return np.convolve(white, kernel / np.sqrt((kernel**2).sum()), mode="valid")


def grey(envelope: Floats, display: Display) -> Floats:
    """Return grey 0 to 255 (not rounded) of an echo size; 1 is mean myocardium."""
    level_db = 20 * np.log10(np.maximum(envelope, 1e-6)) + display.gain_db
    share = (level_db - display.top_db) / display.dynamic_range_db + 1
    return np.asarray(255 * np.clip(share, 0, 1) ** display.curve)


def to_pixels(grey_level: Floats) -> Pixels:
    """Round grey levels to stored pixels."""
    return np.asarray(np.clip(np.round(grey_level), 0, 255), dtype=np.uint8)


def through_jpeg(pixels: Pixels, quality: int | None) -> Pixels:
    """Return the pixels as a JPEG of that quality would give them back."""
    if quality is None:
        return pixels
    from io import BytesIO  # noqa: PLC0415

    from PIL import Image  # noqa: PLC0415

    store = BytesIO()
    Image.fromarray(pixels).save(store, "JPEG", quality=quality, subsampling="4:2:2")
    with Image.open(store) as image:
        return np.asarray(image, dtype=np.uint8)
