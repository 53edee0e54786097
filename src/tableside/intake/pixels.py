"""Samples to what a person sees: 8 bit, grey or RGB, whatever the photometric interpretation.

Source: DICOM PS3.3 C.7.6.3.1.2 (photometric interpretation) and C.11.2 (window).
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from tableside.errors import UnreadableFile
from tableside.intake.codecs import decode_samples
from tableside.intake.pixel_format import PixelFormat

Pixels = NDArray[np.uint8]


def decode_frame(data: bytes, form: PixelFormat) -> Pixels:
    """Return one frame, (rows, columns) grey or (rows, columns, 3) RGB, 8 bit.

    Raises
    ------
    UnreadableFile
        When the stored bytes cannot be decoded; nothing else is raised.
    """
    try:
        decoded = decode_samples(data, form)
        return np.ascontiguousarray(
            _eight_bit(decoded.samples, form)
            if decoded.is_rgb
            else _shown(decoded.samples, form)
        )
    except UnreadableFile:
        raise
    except MemoryError as error:
        raise UnreadableFile("one frame does not fit into memory: not read") from error
    except Exception as error:  # every codec has its own errors
        raise UnreadableFile(
            "its pictures are broken: copy it from the machine again"
        ) from error


def _shown(samples: NDArray[Any], form: PixelFormat) -> Pixels:
    if form.palette is not None and form.photometric == "PALETTE COLOR":
        return form.palette.paint(samples)
    if form.photometric.startswith("MONOCHROME"):
        grey = _windowed(samples, form)
        return 255 - grey if form.photometric == "MONOCHROME1" else grey
    colours = _eight_bit(samples, form)
    if form.photometric in ("RGB", "YBR_RCT", "YBR_ICT"):
        return colours
    return rgb_from_ybr(colours, is_partial=form.photometric.startswith("YBR_PARTIAL"))


def _eight_bit(samples: NDArray[Any], form: PixelFormat) -> Pixels:
    if samples.dtype == np.uint8:
        return samples
    shifted = samples >> max(0, form.bits_stored - 8)
    return np.asarray(shifted.clip(0, 255), np.uint8)


def _windowed(samples: NDArray[Any], form: PixelFormat) -> Pixels:
    """Apply the window to deep greys; greys of 8 bits are shown as they are."""
    if samples.dtype == np.uint8 or form.window is None:
        return _eight_bit(samples, form)
    centre, width = form.window
    low = centre - 0.5 - (width - 1) / 2
    share = (samples.astype(np.float64) - low) / max(width - 1, 1)
    return np.asarray(np.rint(share.clip(0, 1) * 255), np.uint8)


def rgb_from_ybr(ybr: Pixels, *, is_partial: bool = False) -> Pixels:
    """Convert YCbCr of full or studio range to RGB (PS3.3 C.7.6.3.1.2; ITU-R BT.601)."""
    y, cb, cr = np.moveaxis(ybr.astype(np.float32), -1, 0)
    cb, cr = cb - 128, cr - 128
    if is_partial:
        y, cb, cr = (y - 16) * (255 / 219), cb * (255 / 224), cr * (255 / 224)
    red = y + 1.402 * cr
    green = y - 0.344136 * cb - 0.714136 * cr
    blue = y + 1.772 * cb
    return np.asarray(np.rint(np.stack((red, green, blue), axis=-1)).clip(0, 255), np.uint8)
