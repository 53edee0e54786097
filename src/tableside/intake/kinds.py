"""What a file is, by its first bytes; its name is never looked at."""

from collections.abc import Callable
from enum import StrEnum
from pathlib import Path

HEAD_BYTES = 132
_GROUPS = (b"\x02\x00", b"\x08\x00")  # first group of an object without a preamble


class FileKind(StrEnum):
    """A kind of file that can turn up in a folder of images."""

    DICOM = "DICOM"
    STILL = "still"
    VIDEO = "video"
    ZIP = "zip"
    PDF = "PDF"
    PICTURE = "picture of another format"
    EMPTY = "empty"
    OTHER = "other"


def file_kind(path: Path) -> FileKind:
    """Return what a file holds, from its first 132 bytes."""
    with path.open("rb") as stream:
        head = stream.read(HEAD_BYTES)
    if not head:
        return FileKind.EMPTY
    if head[128:] == b"DICM" or _starts_a_dataset(head):
        return FileKind.DICOM
    return next((kind for kind, fits in _SIGNS if fits(head)), FileKind.OTHER)


def _starts_a_dataset(head: bytes) -> bool:
    """Return whether an object begins at once, as some old machines write it."""
    if head[:2] not in _GROUPS or len(head) < 8 or head[2:4] > b"\x40\x00":
        return False
    is_explicit = head[4:6].isalpha() and head[4:6].isupper()
    return is_explicit or int.from_bytes(head[4:8], "little") < 256


_SIGNS: tuple[tuple[FileKind, Callable[[bytes], bool]], ...] = (
    (FileKind.STILL, lambda head: head.startswith((b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"))),
    (FileKind.VIDEO, lambda head: head[4:8] == b"ftyp"),
    (FileKind.VIDEO, lambda head: head[:4] == b"RIFF" and head[8:12] == b"AVI "),
    (FileKind.ZIP, lambda head: head.startswith((b"PK\x03\x04", b"PK\x05\x06"))),
    (FileKind.PDF, lambda head: head.startswith(b"%PDF")),
    (
        FileKind.PICTURE,
        lambda head: (
            head.startswith((b"BM", b"GIF8", b"II*\x00", b"MM\x00*"))
            or (head[:4] == b"RIFF" and head[8:12] == b"WEBP")
        ),
    ),
)
