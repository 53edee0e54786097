"""The log of what people did with a study: one JSON record a line, appended, never rewritten.

A record is on the disk (fsync) before anyone is told that it is kept. A line that a crash cut
off is passed over and said; the next record begins on a line of its own.
"""

import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from tableside.errors import InputError


class LogBroken(InputError):
    """A line in the middle of a log is no record."""

    code = "log-broken"


class NotKept(InputError):
    """The disk did not take a record."""

    code = "not-kept"


@dataclass(frozen=True, slots=True, kw_only=True)
class EditRecord:
    """One thing that one person did.

    ``version`` counts from 1. ``who`` is the editor (a browser). ``undoes`` and ``redoes`` name
    the version of another record.
    """

    version: int
    at: str
    who: str
    kind: str
    payload: Mapping[str, Any]
    undoes: int | None = None
    redoes: int | None = None


class EditLog:
    """The log of one study; the study's lock lets one thread append at a time."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.records, self.cut_off = _read(path)

    @property
    def version(self) -> int:
        """The version of the newest record; 0 before the first."""
        return self.records[-1].version if self.records else 0

    def append(self, record: EditRecord) -> None:
        """Write one record to the disk; when this returns, a crash cannot lose it.

        Raises
        ------
        NotKept
            When the disk is full or gone; the log is then as it was.
        """
        fields = {name: value for name, value in asdict(record).items() if value is not None}
        line = json.dumps(fields, ensure_ascii=False, allow_nan=False).encode() + b"\n"
        is_new = not self._path.exists()
        size = 0 if is_new else self._path.stat().st_size
        if not is_new and not _ends_a_line(self._path):
            line = b"\n" + line
        try:
            with self._path.open("ab") as stream:
                stream.write(line)
                stream.flush()
                os.fsync(stream.fileno())
            if is_new:
                _sync_folder(self._path.parent)
        except OSError as error:
            os.truncate(self._path, size)  # nobody was told that it is kept
            raise NotKept(
                f"the edit could not be written ({error.strerror}); make room on the disk and "
                "do it again"
            ) from error
        self.records = (*self.records, record)


def _read(path: Path) -> tuple[tuple[EditRecord, ...], int]:
    """Return the records, and how many lines a crash cut off."""
    if not path.exists():
        return (), 0
    records: list[EditRecord] = []
    cut_off = 0
    for number, line in enumerate(path.read_bytes().split(b"\n"), start=1):
        if not line:
            continue
        record = _record(line)
        if record is None:
            cut_off += 1
        elif record.version == (records[-1].version if records else 0) + 1:
            records.append(record)
        else:
            raise LogBroken(
                f"line {number} of {path.name} has version {record.version} where "
                f"{len(records) + 1} is due: part of the log is lost. Restore the file."
            )
    return tuple(records), cut_off


def _record(line: bytes) -> EditRecord | None:
    try:
        return EditRecord(**json.loads(line))
    except (ValueError, TypeError):
        return None


def _ends_a_line(path: Path) -> bool:
    with path.open("rb") as stream:
        if stream.seek(0, os.SEEK_END) == 0:
            return True
        stream.seek(-1, os.SEEK_END)
        return stream.read(1) == b"\n"


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
