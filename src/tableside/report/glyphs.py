"""Which characters the letter's typeface has.

The letter is an accessible PDF, which may not hold a character without a shape; a name in
another script must not stop it. Source: OpenType 1.9, table ``cmap``, formats 4 and 12.
"""

import re
import struct
import unicodedata
from functools import cache
from importlib.resources import files

REGULAR = "SourceSans3_400Regular.ttf"
STAND_IN = "\u25a1"  # white square
BREAK = "\u200b"  # zero width space: a line may end here
LONG_WORD = re.compile(r"\S{20}(?=\S)")
INVISIBLE = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def printable(text: str) -> str:
    """Return a text with every character that cannot be printed replaced by a square.

    Control and direction characters become spaces, so that a text cannot turn what
    stands around it.
    """
    known = _characters()
    composed = unicodedata.normalize("NFC", text)
    shaped = "".join(_shape(letter, known) for letter in composed)
    return LONG_WORD.sub(lambda word: word.group() + BREAK, shaped)


def _shape(letter: str, known: frozenset[int]) -> str:
    if letter == "\n" or unicodedata.category(letter) in INVISIBLE:
        return " "
    return letter if ord(letter) in known else STAND_IN


@cache
def _characters() -> frozenset[int]:
    font = (files("tableside") / "report" / "fonts" / REGULAR).read_bytes()
    tables = struct.unpack_from(">H", font, 4)[0]
    for i in range(tables):
        tag, _, offset, _ = struct.unpack_from(">4sIII", font, 12 + 16 * i)
        if tag == b"cmap":
            return frozenset(_cmap(font, offset))
    return frozenset()


def _cmap(font: bytes, start: int) -> set[int]:
    found: set[int] = set()
    for i in range(struct.unpack_from(">H", font, start + 2)[0]):
        offset = struct.unpack_from(">HHI", font, start + 4 + 8 * i)[2]
        kind = struct.unpack_from(">H", font, start + offset)[0]
        if kind == 4:
            found |= _segments(font, start + offset)
        elif kind == 12:
            found |= _groups(font, start + offset)
    return found


def _segments(font: bytes, at: int) -> set[int]:
    """Return the characters of format 4: ranges of 16-bit codes."""
    count = struct.unpack_from(">H", font, at + 6)[0] // 2
    ends = struct.unpack_from(f">{count}H", font, at + 14)
    starts = struct.unpack_from(f">{count}H", font, at + 16 + 2 * count)
    return {
        one for low, high in zip(starts, ends, strict=True) for one in range(low, high + 1)
    } - {0xFFFF}


def _groups(font: bytes, at: int) -> set[int]:
    """Return the characters of format 12: ranges of 32-bit codes."""
    count = struct.unpack_from(">I", font, at + 12)[0]
    found: set[int] = set()
    for i in range(count):
        low, high, _ = struct.unpack_from(">III", font, at + 16 + 12 * i)
        found.update(range(low, high + 1))
    return found
