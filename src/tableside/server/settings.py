"""What the server may be told when it starts, and its limits."""

import ipaddress
from dataclasses import dataclass
from pathlib import Path

from tableside.errors import InputError

LOOPBACK = "127.0.0.1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Where the data lies and how much of anything is taken. Change these, not the code."""

    data: Path
    hosts: frozenset[str] = frozenset({"127.0.0.1", "localhost", "[::1]"})
    most_upload_bytes: int = 4 * 2**30
    most_upload_files: int = 20_000
    most_body_bytes: int = 2**20  # of everything that is no upload
    frame_cache_bytes: int = 256 * 2**20
    most_pack_bytes: int = 64 * 2**20
    open_studies: int = 16
    readers: int = 2  # studies read at once
    keepalive_s: float = 15.0
    jpeg_quality: int = 92


def require_loopback(host: str) -> str:
    """Return the address to listen on.

    Raises
    ------
    InputError
        For any address but this machine's own.
    """
    try:
        address = ipaddress.ip_address(LOOPBACK if host == "localhost" else host)
    except ValueError:
        address = None
    if address is None or not address.is_loopback:
        raise InputError(
            f"the desk listens on this machine alone ({LOOPBACK}); {host} would show patients "
            "to the network without a log-in. Leave --host out."
        )
    return str(address)
