"""All studies of one data folder: kept, opened when asked for, closed when not."""

from collections import OrderedDict
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from shutil import copyfile, rmtree
from threading import Lock

from tableside.errors import NothingReadable
from tableside.intake.archive import unpack
from tableside.intake.gather import gather
from tableside.intake.kinds import FileKind, file_kind
from tableside.model import Rejected
from tableside.server.frames import FrameCache
from tableside.server.live_study import LiveStudy
from tableside.server.settings import Settings
from tableside.store.originals import StudyStore


class Desk:
    """What the routes talk to. One for each running server."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.store = StudyStore(settings.data)
        self.frames = FrameCache(settings.frame_cache_bytes, settings.jpeg_quality)
        self._live: OrderedDict[str, LiveStudy] = OrderedDict()
        self._lock = Lock()
        self._readers = ThreadPoolExecutor(settings.readers, thread_name_prefix="reader")

    def study(self, study: str) -> LiveStudy:
        """Return a study, opened; one that was closed is read again.

        Raises
        ------
        NotFound
            When there is none of that id.
        """
        with self._lock:
            live = self._live.get(study)
            if live is None:
                live = LiveStudy(study, self.store.originals(study))
                self._live[study] = live
                self._close_the_oldest()
                self._readers.submit(live.read)
            self._live.move_to_end(study)
            return live

    def in_memory(self, study: str) -> LiveStudy | None:
        """Return a study if it is open."""
        with self._lock:
            live = self._live.get(study)
            if live is not None:
                self._live.move_to_end(study)
            return live

    def add_folder(self, source: Path) -> str:
        """Copy a folder, a zip or one file to the desk; return the study's id."""
        scratch = self.store.scratch()
        try:
            names = _copy(source, scratch)
            study, _, _ = self.receive(scratch, names)
        finally:
            self.discard(scratch)
        self.study(study)
        return study

    def receive(self, folder: Path, names: dict[str, Path]) -> tuple[str, bool, list[Rejected]]:
        """Keep files that lie in a scratch folder; a zip among them is unpacked first."""
        rejected: list[Rejected] = []
        files: list[tuple[str, Path]] = []
        for position, (name, path) in enumerate(names.items()):
            if file_kind(path) is not FileKind.ZIP:
                files.append((name, path))
                continue
            inside = folder / f"unpacked-{position}"
            inside.mkdir()
            rejected += unpack(path, inside)
            files += [
                (one.relative_to(inside).as_posix(), one)
                for one in sorted(inside.rglob("*"))
                if one.is_file() and not any(part.startswith(".") for part in one.parts[-1:])
            ]
        study, is_new = self.store.add(_without_common_folder(files), rejected)
        return study, is_new, rejected

    def discard(self, folder: Path) -> None:
        """Remove a scratch folder and what is left in it."""
        rmtree(folder, ignore_errors=True)

    def close(self) -> None:
        """Stop reading and let go of all files."""
        self._readers.shutdown(wait=False, cancel_futures=True)
        for live in self._live.values():
            live.close()

    def _close_the_oldest(self) -> None:
        idle = [one for one in self._live.values() if one.status != "reading"]
        for live in idle[: max(0, len(self._live) - self.settings.open_studies)]:
            del self._live[live.id]
            live.close()


def _without_common_folder(files: list[tuple[str, Path]]) -> list[tuple[str, Path]]:
    """Take the name of the dropped folder off every file; it says nothing of the study."""
    folder, slash, _ = files[0][0].partition("/") if files else ("", "", "")
    if not slash or not all(name.startswith(folder + slash) for name, _ in files):
        return files
    return [(name.removeprefix(folder + slash), path) for name, path in files]


def _copy(source: Path, scratch: Path) -> dict[str, Path]:
    found = gather(source, scratch / "unpacked") if source.is_dir() else None
    if found is None:
        if not source.is_file():
            raise NothingReadable(f"{source} does not exist. Give a folder, a zip or a file.")
        files = [(source.name, source)]
    else:
        files = [(one.name, one.path) for one in found.files]
        if found.worksheet is not None:
            files.append((found.worksheet.relative_to(source).as_posix(), found.worksheet))
    names: dict[str, Path] = {}
    for position, (name, path) in enumerate(files):
        names[name] = scratch / f"{position:05d}"
        copyfile(path, names[name])
    return names
