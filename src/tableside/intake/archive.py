"""A zip of images, unpacked into a folder of our own with a limit on everything."""

import stat
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from tableside.errors import NothingReadable
from tableside.intake.limits import (
    CHUNK_BYTES,
    MAX_FILES,
    MAX_RATIO,
    MAX_UNPACKED_BYTES,
    RATIO_FREE_BYTES,
)
from tableside.model import Rejected


class _TooLarge(Exception):
    """A member, or the whole zip, unpacks to more than the limits allow."""


def unpack(packed: Path, folder: Path) -> list[Rejected]:
    """Unpack a zip into an empty folder; return the members that were refused.

    A member is refused when it climbs out of the folder, is locked or broken, or unpacks to
    more than `limits` allow. Names inside the zip only ever become paths below ``folder``.

    Raises
    ------
    NothingReadable
        When the zip itself is broken.
    """
    try:
        with zipfile.ZipFile(packed) as bundle:
            return _unpack_members(bundle, packed, folder)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError) as error:
        raise NothingReadable(
            f"{packed.name} is a broken zip ({error}). Make it again, or copy it again."
        ) from error


def _unpack_members(bundle: zipfile.ZipFile, packed: Path, folder: Path) -> list[Rejected]:
    rejected: list[Rejected] = []
    left = MAX_UNPACKED_BYTES
    for count, member in enumerate(bundle.infolist()):
        if count >= MAX_FILES:
            rejected.append(_refusal(packed.name, f"more than {MAX_FILES} files; the rest"))
            break
        reason = _reason_to_refuse(member)
        if reason is not None:
            rejected.append(Rejected(file=_shown(member.filename), reason=reason))
        elif not member.is_dir():
            try:
                left -= _unpack_one(bundle, member, folder, left)
            except _TooLarge as error:
                rejected.append(Rejected(file=_shown(member.filename), reason=str(error)))
            except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError):
                broken = "broken inside the zip: make the zip again"
                rejected.append(Rejected(file=_shown(member.filename), reason=broken))
    return rejected


def _reason_to_refuse(member: zipfile.ZipInfo) -> str | None:
    name = member.filename.replace("\\", "/")
    path = PurePosixPath(name)
    if path.is_absolute() or ".." in path.parts or ":" in name or "\0" in name:
        return "its name points outside the zip, which an export never does: not unpacked"
    if member.flag_bits & 0x1:
        return "locked with a password: unlock the zip and give it again"
    if stat.S_ISLNK(member.external_attr >> 16):
        return "a link to another file, not a file: not unpacked"
    return None


def _unpack_one(
    bundle: zipfile.ZipFile, member: zipfile.ZipInfo, folder: Path, left: int
) -> int:
    """Write one member; return its size. The sizes that the zip states are not believed."""
    target = folder.joinpath(*PurePosixPath(member.filename.replace("\\", "/")).parts)
    target.parent.mkdir(parents=True, exist_ok=True)
    most = min(left, max(RATIO_FREE_BYTES, member.compress_size * MAX_RATIO))
    size = 0
    try:
        with bundle.open(member) as source, target.open("xb") as sink:
            while chunk := source.read(CHUNK_BYTES):
                size += len(chunk)
                if size > most:
                    raise _TooLarge(
                        f"unpacks to more than {most / 2**20:.0f} MB, far more than images "
                        "do: not unpacked. Give the folder instead of the zip."
                    )
                sink.write(chunk)
    except BaseException:
        target.unlink(missing_ok=True)
        raise
    return size


def _refusal(name: str, what: str) -> Rejected:
    return Rejected(file=name, reason=f"{what} not unpacked")


def _shown(name: str) -> str:
    return name.replace("\\", "/")[:200]
