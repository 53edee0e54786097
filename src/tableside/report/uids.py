"""Unique identifiers that follow from content: the same study gives the same report."""

from hashlib import sha256
from uuid import UUID


def derived_uid(*parts: str) -> str:
    """Return a UID below 2.25 from texts.

    Source: DICOM PS3.5 B.2 (UUID derived UID); RFC 9562 5.8 (version 8, from any content).
    """
    digest = bytearray(sha256("\x00".join(parts).encode()).digest()[:16])
    digest[6] = digest[6] & 0x0F | 0x80
    digest[8] = digest[8] & 0x3F | 0x80
    return f"2.25.{UUID(bytes=bytes(digest)).int}"
