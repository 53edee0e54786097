"""The files of a study as they came: numbered on the disk, named in a manifest.

No path is built from anything that came from outside: a name of a file lives inside the
manifest alone.
"""

import hashlib
import json
import os
import re
import secrets
import shutil
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from tableside.errors import InputError, NotFound
from tableside.model import Rejected

ID = re.compile(r"[0-9a-f]{16}")
MANIFEST = "originals.json"
CHUNK_BYTES = 2**20


class Damaged(InputError):
    """A stored file is not what it was when it came."""

    code = "damaged"


@dataclass(frozen=True, slots=True, kw_only=True)
class Original:
    """One stored file: its name inside the study, and its content's hash."""

    name: str
    stored: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Originals:
    """The files of one study, and what of the delivery was refused."""

    folder: Path
    files: tuple[Original, ...]
    rejected: tuple[Rejected, ...] = ()

    def named(self) -> Iterator[tuple[str, Path]]:
        """Yield each file's name inside the study and where it lies."""
        for one in self.files:
            yield one.name, self.folder / "originals" / one.stored

    def require_intact(self) -> None:
        """Compare every file with its hash.

        Raises
        ------
        Damaged
            Naming the first file that is missing or changed.
        """
        for one in self.files:
            path = self.folder / "originals" / one.stored
            if not path.is_file() or _sha256(path) != one.sha256:
                raise Damaged(
                    f"{one.name} is missing or has changed on the disk since it came; "
                    "give the study again from the machine"
                )


class StudyStore:
    """The folders of all studies below one data folder."""

    def __init__(self, data: Path) -> None:
        self.root = data / "studies"
        self.incoming = data / "incoming"

    def ids(self) -> list[str]:
        """Return the ids of all studies, the newest first."""
        if not self.root.is_dir():
            return []
        found = [one for one in self.root.iterdir() if ID.fullmatch(one.name)]
        kept = [one for one in found if (one / MANIFEST).is_file()]
        return [one.name for one in sorted(kept, key=_age, reverse=True)]

    def folder(self, study: str) -> Path:
        """Return a study's folder.

        Raises
        ------
        NotFound
            For an id that is none, or of a study that is not there.
        """
        if ID.fullmatch(study) is None or not (self.root / study / MANIFEST).is_file():
            raise NotFound("there is no such study; it may have been given to another server")
        return self.root / study

    def originals(self, study: str) -> Originals:
        """Return the files of a study."""
        folder = self.folder(study)
        raw = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        return Originals(
            folder=folder,
            files=tuple(Original(**one) for one in raw["files"]),
            rejected=tuple(Rejected(**one) for one in raw["rejected"]),
        )

    def scratch(self) -> Path:
        """Return a new empty folder on the same disk, to receive files into."""
        folder = self.incoming / secrets.token_hex(8)
        folder.mkdir(parents=True)
        return folder

    def add(
        self, files: Iterable[tuple[str, Path]], rejected: Iterable[Rejected] = ()
    ) -> tuple[str, bool]:
        """Keep files that lie in a `scratch` folder; they are moved, not copied.

        Returns
        -------
        str
            The id: the same contents give the same id.
        bool
            Whether the study is new; one that is already there stays as it is.
        """
        kept = sorted((_sha256(path), name, path) for name, path in files)
        study = hashlib.sha256(" ".join(digest for digest, _, _ in kept).encode()).hexdigest()
        study = study[:16]
        if (self.root / study / MANIFEST).is_file():
            return study, False
        folder = self.scratch()
        (folder / "originals").mkdir()
        originals = [
            _move(folder, position, name, path, digest)
            for position, (digest, name, path) in enumerate(
                sorted(kept, key=lambda one: one[1])
            )
        ]
        manifest = {
            "files": [asdict(one) for one in originals],
            "rejected": [asdict(one) for one in rejected],
        }
        _write_durably(folder / MANIFEST, json.dumps(manifest, indent=1).encode())
        self.root.mkdir(parents=True, exist_ok=True)
        shutil.rmtree(self.root / study, ignore_errors=True)  # what a crash left half done
        folder.rename(self.root / study)
        return study, True


def _move(folder: Path, position: int, name: str, path: Path, digest: str) -> Original:
    stored = f"{position:05d}"
    size = path.stat().st_size
    shutil.move(path, folder / "originals" / stored)
    return Original(name=name, stored=stored, size=size, sha256=digest)


def _age(folder: Path) -> tuple[float, str]:
    return (folder / MANIFEST).stat().st_mtime, folder.name


def _sha256(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _write_durably(path: Path, content: bytes) -> None:
    with path.open("wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())
