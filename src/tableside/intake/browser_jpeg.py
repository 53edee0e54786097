"""Whether a browser shows a stored JPEG frame as we would: then it is sent untouched.

A browser knows nothing of the header: it takes the size, the colours and the depth from the
stream alone.
"""

import struct

from tableside.intake.codecs import jpeg_segment, says_its_colours
from tableside.intake.pixel_format import PixelFormat

LOSSY_JPEG = frozenset({"1.2.840.10008.1.2.4.50", "1.2.840.10008.1.2.4.51"})
_BROWSER_FRAMES = frozenset({0xC0, 0xC1, 0xC2})  # baseline, extended and progressive Huffman
_LETTERS = b"RGB"


def shows_as_stored(form: PixelFormat) -> bool:
    """Return whether the header asks for no change of the decoded samples."""
    return form.photometric.startswith(("MONOCHROME2", "RGB", "YBR_FULL"))


def is_plain_jpeg(data: bytes, form: PixelFormat) -> bool:
    """Return whether the stream says by itself all that the header says.

    Without Adobe's or JFIF's marker a decoder takes three components for YCbCr, unless they
    are called R, G and B (the libjpeg convention that browsers follow).
    """
    if data[:2] != b"\xff\xd8":
        return False
    frame = jpeg_segment(data, _BROWSER_FRAMES)
    if frame is None or len(frame) < 6 + 3 * form.samples:
        return False
    depth, rows, columns, components = struct.unpack(">BHHB", frame[:6])
    if (depth, rows, columns, components) != (8, form.rows, form.columns, form.samples):
        return False
    if form.samples == 1 or says_its_colours(data):
        return True
    names = frame[6::3][:3]
    return form.photometric != "RGB" and names != _LETTERS
