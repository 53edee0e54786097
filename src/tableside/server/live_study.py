"""One study in memory: its files opened, its images looked at, its reading as of now."""

import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path
from threading import Event as Flag
from threading import RLock
from typing import Any

from tableside.errors import InputError, NotFound, TablesideError
from tableside.intake import OpenedStudy, open_named
from tableside.model import Image, Reading
from tableside.reading import Looked, derived, judge, look, measured
from tableside.server.events import Event, News
from tableside.server.shapes.study import Progress, Status
from tableside.store.edit_log import EditLog
from tableside.store.originals import Originals

SUMMARY = "summary.json"  # for the list alone; made anew with every reading


class NotReady(InputError):
    """The study is still being read, or could not be."""

    code = "not-ready"


class LiveStudy:
    """The state of one study. Everything that changes it holds ``lock``."""

    def __init__(self, study: str, originals: Originals) -> None:
        self.id = study
        self.originals = originals
        self.lock = RLock()
        self.news = News()
        self.log = EditLog(originals.folder / "edits.jsonl")
        self.status: Status = "reading"
        self.failure: str | None = None
        self.progress: Progress | None = None
        self.reading: Reading | None = None
        self._opened: OpenedStudy | None = None
        self._is_open = Flag()

    @property
    def opened(self) -> OpenedStudy:
        """The opened files; waits for them.

        Raises
        ------
        NotReady
            When they could not be opened.
        """
        self._is_open.wait(timeout=60)
        if self._opened is None:
            raise NotReady(self.failure or "the files are still being opened; ask again")
        return self._opened

    def image(self, number: int) -> Image:
        """Return an image as the files describe it.

        Raises
        ------
        NotFound
            For a number that the study does not have.
        """
        images = self.opened.study.images
        if not 0 <= number < len(images):
            raise NotFound(f"no image {number}; the study has 0 to {len(images) - 1}")
        return images[number]

    def read(self) -> None:
        """Open and read the study; called once, in a thread of its own."""
        try:
            self.originals.require_intact()
            self._opened = open_named(self.originals.named())
            self._is_open.set()
            looked = list(self._look_at_all(self._opened))
            exam = measured(self._opened.study, looked)
            with self.lock:
                self.reading = judge(derived(exam), looked)
                self.status, self.progress = "ready", None
            _write_summary(self.originals.folder, self.reading)
            self.news.tell(Event(kind="reading", data={"version": self.log.version}))
        except TablesideError as error:
            self._fail(str(error))
        except Exception:
            self._fail("the study could not be read because of a fault of the program")
            raise
        finally:
            self._is_open.set()

    def close(self) -> None:
        """Let go of the files."""
        if self._opened is not None:
            self._opened.close()

    def _look_at_all(self, opened: OpenedStudy) -> Iterator[Looked]:
        images = opened.study.images
        for position, image in enumerate(images, start=1):
            self.progress = Progress(file=image.file, position=position, total=len(images))
            self.news.tell(Event(kind="progress", data=self.progress.model_dump()))
            yield look(opened, image)

    def _fail(self, reason: str) -> None:
        with self.lock:
            self.status, self.failure, self.progress = "failed", reason, None
        self.news.tell(Event(kind="failed", data={"detail": reason}))


def _write_summary(folder: Path, reading: Reading) -> None:
    patient, visit = reading.exam.patient, reading.exam.visit
    summary = {
        "patient": patient.name,
        "patient_id": patient.id,
        "species": patient.species,
        "breed": patient.breed,
        "owner": patient.owner,
        "date": visit.date.isoformat() if visit.date else None,
        "images": len(reading.exam.study.images),
    }
    unfinished = folder / f".{SUMMARY}"
    unfinished.write_text(json.dumps(summary), encoding="utf-8")
    unfinished.replace(folder / SUMMARY)


def read_summary(folder: Path) -> dict[str, Any]:
    """Return what the list shows of a study that was read before; {} when it was not."""
    try:
        found = json.loads((folder / SUMMARY).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def arrived(folder: Path) -> str:
    """Return when a study came, in UTC."""
    moment = dt.datetime.fromtimestamp((folder / "originals.json").stat().st_mtime, dt.UTC)
    return moment.isoformat(timespec="seconds")
