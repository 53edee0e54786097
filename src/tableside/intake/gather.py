"""The files of a study: a folder walked to its end, a zip, or one file."""

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from tableside.errors import NothingReadable
from tableside.intake.archive import unpack
from tableside.intake.kinds import FileKind, file_kind
from tableside.intake.limits import MAX_FILES
from tableside.model import Rejected

WORKSHEET = "worksheet.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One file of the study; ``name`` is its path inside the study, with forward slashes."""

    name: str
    path: Path
    kind: FileKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """What lies in the study, before anything is read."""

    files: tuple[Found, ...]
    worksheet: Path | None
    rejected: tuple[Rejected, ...] = ()
    outside: frozenset[str] = frozenset()  # names beside a study that is one file


def gather(path: Path, scratch: Path) -> Gathered:
    """List the files of a study; a zip is unpacked into ``scratch``.

    Raises
    ------
    NothingReadable
        When the path does not exist or is not a file or folder.
    """
    if path.is_dir():
        return _folder(path)
    if not path.is_file():
        raise NothingReadable(
            f"{path} does not exist. Give a folder, a .zip or one file of images."
        )
    try:
        kind = file_kind(path)
    except OSError as error:
        raise NothingReadable(f"{path} cannot be opened ({error.strerror}).") from error
    if kind is FileKind.ZIP:
        scratch.mkdir(parents=True, exist_ok=True)
        rejected = unpack(path, scratch)
        return _folder(scratch, tuple(rejected))
    beside = path.parent / WORKSHEET
    return Gathered(
        files=(Found(name=path.name, path=path, kind=kind),),
        worksheet=beside if beside.is_file() else None,
        outside=frozenset(_beside(path)),
    )


def _beside(path: Path) -> Iterator[str]:
    """Yield the other files of the folder: one worksheet may describe them all."""
    for count, other in enumerate(path.parent.iterdir()):
        if count >= MAX_FILES:
            return
        if other.name != path.name:
            yield other.name


def gather_named(files: Iterable[tuple[str, Path]]) -> Gathered:
    """List files that lie anywhere, each with its name inside the study."""
    return _sorted(iter(files), ())


def _folder(root: Path, rejected: tuple[Rejected, ...] = ()) -> Gathered:
    names = ((path.relative_to(root).as_posix(), path) for path in _walk(root))
    return _sorted(names, rejected)


def _sorted(files: Iterator[tuple[str, Path]], rejected: tuple[Rejected, ...]) -> Gathered:
    found: list[Found] = []
    refused = list(rejected)
    worksheets: list[tuple[str, Path]] = []
    for count, (name, path) in enumerate(files):
        if count >= MAX_FILES:
            refused.append(
                Rejected(file=name, reason=f"after {MAX_FILES} files no more is read")
            )
            break
        if PurePosixPath(name).name == WORKSHEET:
            worksheets.append((name, path))
            continue
        try:
            found.append(Found(name=name, path=path, kind=file_kind(path)))
        except OSError as error:
            refused.append(Rejected(file=name, reason=f"cannot be opened: {error.strerror}"))
    worksheets.sort(key=lambda one: one[0].count("/"))
    for name, _ in worksheets[1:]:
        reason = f"not used: {worksheets[0][0]} is nearer to the study"
        refused.append(Rejected(file=name, reason=reason))
    return Gathered(
        files=tuple(found),
        worksheet=worksheets[0][1] if worksheets else None,
        rejected=tuple(refused),
    )


def _walk(root: Path) -> Iterator[Path]:
    """Yield every regular file in a stable order; hidden files and linked folders are left."""
    for folder, folders, names in os.walk(root):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(names):
            path = Path(folder, name)
            if not name.startswith(".") and path.is_file():
                yield path
