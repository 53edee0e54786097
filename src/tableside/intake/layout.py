"""Where the frames of a DICOM object lie in its file: read a few bytes, hold no pixels."""

import struct
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import BinaryIO

from tableside.errors import UnreadableFile
from tableside.intake.header import CUT_OFF, UNDEFINED, Header
from tableside.intake.limits import MAX_FRAGMENT_BYTES, MAX_FRAGMENTS
from tableside.intake.pixel_format import PixelFormat

_ITEM = (0xFFFE, 0xE000)
_PICTURE_STARTS = (b"\xff\xd8\xff", b"\xff\x4f\xff\x51")  # JPEG and JPEG-LS; JPEG 2000

Span = tuple[int, int]  # offset in the file, and length


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The pieces of each frame, in order."""

    path: Path
    frames: tuple[tuple[Span, ...], ...]

    def read(self, index: int) -> bytes:
        """Return the stored bytes of one frame."""
        with self.path.open("rb") as stream:
            return read_spans(stream, self.frames[index])


def read_spans(stream: BinaryIO, spans: tuple[Span, ...]) -> bytes:
    """Return the bytes of one frame from an open file."""
    if sum(length for _, length in spans) > MAX_FRAGMENT_BYTES:
        raise UnreadableFile("one frame takes more bytes than a picture can: not read")
    pieces = []
    for offset, length in spans:
        stream.seek(offset)
        pieces.append(stream.read(length))
        if len(pieces[-1]) < length:
            raise UnreadableFile(CUT_OFF)
    return b"".join(pieces)


def frame_layout(header: Header, form: PixelFormat) -> Layout:
    """Find the frames.

    Raises
    ------
    UnreadableFile
        When the file ends before its frames do, or they cannot be told apart.
    """
    if header.pixel_length is not None:
        return Layout(path=header.pixel_path, frames=_native(header, form))
    with header.pixel_path.open("rb") as stream:
        stream.seek(header.pixel_offset)
        table, fragments = _fragments(stream)
        frames = _group(stream, fragments, table, form.frames)
    return Layout(path=header.pixel_path, frames=frames)


def _native(header: Header, form: PixelFormat) -> tuple[tuple[Span, ...], ...]:
    size = form.stored_frame_bytes
    there = header.pixel_path.stat().st_size - header.pixel_offset
    if min(there, header.pixel_length or 0) < size * form.frames:
        raise UnreadableFile(CUT_OFF)
    if form.frames == 1:  # an odd frame in words ends in the second byte of its last word
        return (((header.pixel_offset, size + size % 2 * form.has_words),),)
    return tuple(((header.pixel_offset + n * size, size),) for n in range(form.frames))


def _fragments(stream: BinaryIO) -> tuple[tuple[int, ...], list[Span]]:
    """Walk the items of encapsulated pixels (PS3.5 A.4): the offset table and the spans.

    A file that ends after its last whole fragment, without the closing delimiter, is taken.
    """
    start = stream.tell()
    end = stream.seek(0, 2)
    spans: list[Span] = []
    position = start
    while position + 8 <= end:
        stream.seek(position)
        group, element, length = struct.unpack("<HHI", stream.read(8))
        if (group, element) != _ITEM:
            break
        if length == UNDEFINED or position + 8 + length > end or len(spans) > MAX_FRAGMENTS:
            raise UnreadableFile(CUT_OFF)
        spans.append((position + 8, length))
        position += 8 + length
    if len(spans) < 2:  # the first item is the offset table
        raise UnreadableFile(CUT_OFF)
    return _offset_table(stream, spans[0]), spans[1:]


def _offset_table(stream: BinaryIO, span: Span) -> tuple[int, ...]:
    offset, length = span
    stream.seek(offset)
    return struct.unpack(f"<{length // 4}I", stream.read(length // 4 * 4))


def _group(
    stream: BinaryIO, fragments: list[Span], table: tuple[int, ...], frames: int
) -> tuple[tuple[Span, ...], ...]:
    """Tell which fragments make a frame: one each, by the offset table, or by their start."""
    if frames == 1:
        return (tuple(fragments),)
    if len(fragments) == frames:
        return tuple((one,) for one in fragments)
    if len(fragments) < frames:
        raise UnreadableFile(f"says {frames} frames and holds {len(fragments)}: {CUT_OFF}")
    first = fragments[0][0] - 8
    starts = [offset + 8 + first for offset in table]
    if len(starts) != frames or not {offset for offset, _ in fragments}.issuperset(starts):
        starts = [one[0] for one in fragments if _begins_a_picture(stream, one)]
    if len(starts) != frames:
        raise UnreadableFile(
            "its frames cannot be told apart: export it from the machine again"
        )
    bounds = [*starts, fragments[-1][0] + 1]
    return tuple(
        tuple(one for one in fragments if begin <= one[0] < stop)
        for begin, stop in pairwise(bounds)
    )


def _begins_a_picture(stream: BinaryIO, span: Span) -> bool:
    stream.seek(span[0])
    return stream.read(4).startswith(_PICTURE_STARTS)
