"""One study in memory: its files opened, its images looked at, its reading as of now."""

import datetime as dt
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from threading import Event as Flag
from threading import RLock
from typing import Any

from tableside.corrections.history import require_no_conflict
from tableside.corrections.run import Corrected, corrected
from tableside.errors import InputError, NotFound, NotMeasurable, OutOfRange, TablesideError
from tableside.intake import OpenedStudy, open_named
from tableside.model import Image
from tableside.server.document import numbers_of, reading_json
from tableside.server.events import Event, News
from tableside.server.in_words import edit_news
from tableside.server.looks import Looks
from tableside.server.shapes.study import Progress, Status
from tableside.server.summary import write_summary
from tableside.store.edit_log import EditLog, EditRecord
from tableside.store.originals import Originals

KEPT_VERSIONS = 8  # older ones are answered with the whole reading


class NotReady(InputError):
    """The study is still being read, or could not be."""

    code = "not-ready"


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """The study at one version; ``document`` is the reading as it travels."""

    version: int
    now: Corrected
    document: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """An edit that was kept: the state before and after, and what others did meanwhile."""

    record: EditRecord
    state: State
    merged: Sequence[EditRecord]


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
        self._states: OrderedDict[int, State] = OrderedDict()
        self._opened: OpenedStudy | None = None
        self.looks: Looks
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

    @property
    def state(self) -> State | None:
        """The newest state; None while the study is read for the first time."""
        return next(reversed(self._states.values()), None)

    def state_at(self, version: int) -> State | None:
        """Return an older state if it is still known."""
        return self._states.get(version)

    def require_state(self) -> State:
        """Return the newest state.

        Raises
        ------
        NotReady
            While the study is being read, or when it could not be.
        """
        state = self.state
        if state is None:
            raise NotReady(self.failure or "the study is still being read; ask again")
        return state

    def image(self, number: int) -> Image:
        """Return an image as it stands: with its labels and scale after all edits.

        Raises
        ------
        NotFound
            For a number that the study does not have.
        """
        images = self.opened.study.images
        if not 0 <= number < len(images):
            raise NotFound(f"no image {number}; the study has 0 to {len(images) - 1}")
        state = self.state
        found = state.now.reading.exam.image(images[number].file) if state else None
        return found or images[number]

    def read(self) -> None:
        """Open and read the study; called once, in a thread of its own."""
        try:
            self.originals.require_intact()
            self._opened = open_named(self.originals.named())
            self.looks = Looks(self._opened)
            self._is_open.set()
            self.looks.look_at_all(self._tell_progress)
            with self.lock:
                now = self._corrected(self.log.records)
                self._set(now, self.log.version)
                self.status, self.progress = "ready", None
            write_summary(self.originals.folder, now.reading)
            self.news.tell(Event(kind="reading", data={"version": self.log.version}))
        except TablesideError as error:
            self._fail(str(error))
        except Exception:
            self._fail("the study could not be read because of a fault of the program")
            raise
        finally:
            self._is_open.set()

    def edit(self, make: Callable[[State, int], EditRecord], base_version: int) -> Done:
        """Keep one edit.

        Parameters
        ----------
        make : callable
            Makes the record from the present state and the version it will have.
        base_version : int
            What the editor saw.

        Raises
        ------
        Conflict
            When someone else changed the same thing since.
        NotReady, NotMeasurable, NotFound, OutOfRange
            When the edit cannot be applied; nothing is kept then.
        """
        with self.lock:
            before = self.require_state()
            if base_version > before.version:
                raise OutOfRange(
                    f"base_version = {base_version}; the newest is {before.version}. Load anew."
                )
            record = make(before, before.version + 1)
            merged = require_no_conflict(self.log.records, record, base_version)
            now = self.with_record(record, before)
            self.log.append(record)
            state = self._set(now, record.version)
        write_summary(self.originals.folder, now.reading)
        self.news.tell(edit_news(record, self.opened.study.images))
        return Done(record=record, state=state, merged=merged)

    def with_record(self, record: EditRecord, before: State) -> Corrected:
        """Return the reading with one more record that is not kept yet.

        Raises
        ------
        NotMeasurable
            When the record has no effect, with the reason.
        """
        now = self._corrected((*self.log.records, record))
        require_effect(record, before.now, now)
        return now

    def close(self) -> None:
        """Let go of the files."""
        if self._opened is not None:
            self._opened.close()

    def _corrected(self, records: Sequence[EditRecord]) -> Corrected:
        known = [state.now for state in reversed(self._states.values())]
        return corrected(self.opened.study, records, self.looks, known)

    def _tell_progress(self, file: str, position: int, total: int) -> None:
        self.progress = Progress(file=file, position=position, total=total)
        self.news.tell(Event(kind="progress", data=self.progress.model_dump()))

    def _set(self, now: Corrected, version: int) -> State:
        document = reading_json(now, numbers_of(self.opened.study.images))
        state = State(version=version, now=now, document=document)
        self._states[version] = state
        while len(self._states) > KEPT_VERSIONS:
            self._states.popitem(last=False)
        return state

    def _fail(self, reason: str) -> None:
        with self.lock:
            self.status, self.failure, self.progress = "failed", reason, None
        self.news.tell(Event(kind="failed", data={"detail": reason}))


def require_effect(record: EditRecord, before: Corrected, after: Corrected) -> None:
    """Refuse an edit that changes nothing, with the reason.

    Raises
    ------
    NotMeasurable
    """
    reason = after.without_effect.get(record.version)
    if reason is None and record.kind in ("caliper", "move"):
        known = set(before.reading.exam.study.rejected)
        new = [one for one in after.reading.exam.study.rejected if one not in known]
        reason = new[0].reason if new else None
    if reason is not None:
        raise NotMeasurable(reason)


def now_utc() -> str:
    """Return the time for a record."""
    return dt.datetime.now(dt.UTC).isoformat(timespec="milliseconds")
