"""Stored bytes to samples, one frame at a time, by the codec of the transfer syntax.

Source: DICOM PS3.5 sections 8 and A.4 and the list of transfer syntaxes in PS3.6 A.
"""

import struct
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import imagecodecs
import numpy as np
from numpy.typing import NDArray

from tableside.errors import UnreadableFile
from tableside.intake.pixel_format import PixelFormat

Samples = NDArray[Any]  # (rows, columns) or (rows, columns, 3), 8 or 16 bit


@dataclass(frozen=True, slots=True, eq=False)
class Decoded:
    """Samples of one frame, and whether the codec has already made them RGB."""

    samples: Samples
    is_rgb: bool = False


Codec = Callable[[bytes, PixelFormat], Decoded]
NATIVE = frozenset(f"1.2.840.10008.1.2{end}" for end in ("", ".1", ".2"))
VIDEO = frozenset(f"1.2.840.10008.1.2.4.{end}" for end in range(100, 109))


def decode_samples(data: bytes, form: PixelFormat) -> Decoded:
    """Decode one frame.

    Raises
    ------
    UnreadableFile
        When the coding is not known, or the stream is broken or of another size than the
        header says. The size is read from the stream before any of it is decoded.
    """
    if form.syntax in NATIVE:
        return _native(data, form)
    codec = _CODECS.get(form.syntax)
    if codec is None:
        raise UnreadableFile(
            f"its pictures are coded by {form.syntax}, which is not read: export as JPEG, "
            "JPEG 2000 or uncompressed"
        )
    decoded = codec(data, form)
    wanted = (form.rows, form.columns) + ((3,) if form.samples == 3 else ())
    if decoded.samples.shape != wanted:
        raise UnreadableFile(_OTHER_SIZE)
    return decoded


_OTHER_SIZE = "its pictures have another size than its header says: export it again"


def _native(data: bytes, form: PixelFormat) -> Decoded:
    if form.photometric.endswith("_422"):
        return Decoded(_from_422(np.frombuffer(data, np.uint8), form))
    kind: np.dtype[Any] = np.dtype("u1")
    if form.bits_allocated == 16:
        kind = np.dtype(">u2" if form.is_big_endian else "<u2")
    elif form.is_big_endian and form.has_words:  # bytes lie in swapped pairs: PS3.5 8.1.1
        padded = np.frombuffer(data + b"\0" * (len(data) % 2), ">u2")
        data = padded.astype("<u2").tobytes()[: form.stored_frame_bytes]
    flat = np.frombuffer(data, kind)
    return Decoded(_shaped(flat, form, is_planar=form.is_planar))


def _from_422(flat: NDArray[np.uint8], form: PixelFormat) -> NDArray[np.uint8]:
    """Spread the chroma of Y Y Cb Cr over its two pixels (PS3.3 C.7.6.3.1.2)."""
    quads = flat.reshape(form.rows, form.columns // 2, 4)
    full = np.empty((form.rows, form.columns // 2, 2, 3), np.uint8)
    full[..., 0] = quads[..., :2]
    full[..., 1] = quads[..., 2:3]
    full[..., 2] = quads[..., 3:4]
    return full.reshape(form.rows, form.columns, 3)


def _shaped(flat: Samples, form: PixelFormat, *, is_planar: bool) -> Samples:
    if form.samples == 1:
        return flat.reshape(form.rows, form.columns)
    if is_planar:
        return np.moveaxis(flat.reshape(3, form.rows, form.columns), 0, -1)
    return flat.reshape(form.rows, form.columns, 3)


def _rle(data: bytes, form: PixelFormat) -> Decoded:
    """Decode run lengths into a buffer of the size that the header says, no further."""
    kind = np.dtype(np.uint8 if form.bits_allocated == 8 else "<u2")
    size = form.rows * form.columns * form.samples * kind.itemsize
    flat = imagecodecs.dicomrle_decode(data, kind, out=bytearray(size))
    return Decoded(_shaped(np.frombuffer(flat, kind), form, is_planar=True))


def _jpeg(data: bytes, form: PixelFormat) -> Decoded:
    """Decode a lossy JPEG, minding what its colours are.

    A stream with Adobe's APP14 or a JFIF marker says it itself. Without one, every library
    takes three components for YCbCr, and an RGB image comes out wrong; then the header
    decides.
    """
    _require_jpeg_size(data, form)
    if form.samples == 1:
        return Decoded(imagecodecs.jpeg8_decode(data))
    stored = None
    if not says_its_colours(data):
        stored = "RGB" if form.photometric == "RGB" else "YCBCR"
    pixels = imagecodecs.jpeg8_decode(data, colorspace=stored, outcolorspace="RGB")
    return Decoded(pixels, is_rgb=True)


def _lossless_jpeg(data: bytes, form: PixelFormat) -> Decoded:
    """Decode a lossless JPEG, which never transforms its colours (PS3.5 8.2.1).

    The small decoder made for this process alone crashes on broken streams; this one does not.
    """
    _require_jpeg_size(data, form)
    if form.samples == 1:
        return Decoded(imagecodecs.jpeg8_decode(data))
    return Decoded(imagecodecs.jpeg8_decode(data, colorspace="RGB", outcolorspace="RGB"))


def _jpeg_ls(data: bytes, form: PixelFormat) -> Decoded:
    _require_jpeg_size(data, form)
    return Decoded(imagecodecs.jpegls_decode(data))


def _jpeg_2000(data: bytes, form: PixelFormat) -> Decoded:
    """Decode JPEG 2000; the codec undoes the colour transform that the stream declares."""
    start = data.find(b"\xff\x4f\xff\x51", 0, 4096)
    if start < 0:
        raise UnreadableFile(_BROKEN)
    right, bottom, left, top = struct.unpack(">IIII", data[start + 8 : start + 24])
    if (bottom - top, right - left) != (form.rows, form.columns):
        raise UnreadableFile(_OTHER_SIZE)
    pixels = imagecodecs.jpeg2k_decode(data, numthreads=1)
    return Decoded(pixels, is_rgb=form.photometric in ("RGB", "YBR_RCT", "YBR_ICT"))


def _jpeg_xl(data: bytes, form: PixelFormat) -> Decoded:
    """Decode JPEG XL, which always gives RGB; the buffer holds it to the header's size."""
    shape = (form.rows, form.columns) + ((3,) if form.samples == 3 else ())
    kind = np.uint8 if form.bits_allocated == 8 else np.uint16
    out = np.empty(shape, kind)
    imagecodecs.jpegxl_decode(data, numthreads=1, out=out)
    return Decoded(out, is_rgb=form.samples == 3)


_BROKEN = "its pictures are broken: copy it from the machine again"


def _require_jpeg_size(data: bytes, form: PixelFormat) -> None:
    """Read the frame header of a JPEG or JPEG-LS stream (ISO 10918-1 B.2.2)."""
    frame = jpeg_segment(data, _FRAME_HEADERS)
    if frame is None or len(frame) < 6:
        raise UnreadableFile(_BROKEN)
    _, rows, columns, components = struct.unpack(">BHHB", frame[:6])
    if (rows, columns, components) != (form.rows, form.columns, form.samples):
        raise UnreadableFile(_OTHER_SIZE)


def says_its_colours(data: bytes) -> bool:
    """Return whether Adobe's or JFIF's marker says what the colours of a JPEG are."""
    return (
        jpeg_segment(data, frozenset({0xEE})) or jpeg_segment(data, frozenset({0xE0}))
    ) is not None


_FRAME_HEADERS = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC} | {0xF7}
_SCAN = 0xDA


def jpeg_segment(data: bytes, markers: frozenset[int]) -> bytes | None:
    """Return the body of the first segment with one of the markers, before the scan."""
    position = 2
    while position + 4 <= len(data) and data[position] == 0xFF:
        marker = data[position + 1]
        if marker == 0xFF:  # a fill byte
            position += 1
            continue
        (length,) = struct.unpack(">H", data[position + 2 : position + 4])
        if marker in markers:
            return data[position + 4 : position + 2 + length]
        if marker == _SCAN:
            return None
        position += 2 + length
    return None


def _codecs() -> dict[str, Codec]:
    by_ending: dict[Codec, tuple[str, ...]] = {
        _rle: ("5",),
        _jpeg: ("4.50", "4.51"),
        _lossless_jpeg: ("4.57", "4.70"),
        _jpeg_ls: ("4.80", "4.81"),
        _jpeg_2000: ("4.90", "4.91", "4.92", "4.93", "4.201", "4.202", "4.203"),
        _jpeg_xl: ("4.110", "4.111", "4.112"),
    }
    root = "1.2.840.10008.1.2."
    return {root + end: codec for codec, ends in by_ending.items() for end in ends}


_CODECS = _codecs()
