"""The log: nothing that was acknowledged is lost, nothing that was not is believed."""

import json
import os
from pathlib import Path

import pytest

from tableside.store.edit_log import EditLog, EditRecord, LogBroken, NotKept


def record(version: int, **payload: object) -> EditRecord:
    return EditRecord(
        version=version, at="2026-05-12T10:00:00Z", who="anna", kind="visit", payload=payload
    )


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "edits.jsonl"


def test_a_new_log_is_empty(path: Path) -> None:
    log = EditLog(path)
    assert (log.records, log.version, log.cut_off) == ((), 0, 0)


def test_records_come_back_as_they_were_written(path: Path) -> None:
    log = EditLog(path)
    written = (record(1, weight_kg=9.6, name="Fö\nnn"), record(2, signs=["cough"]))
    for one in written:
        log.append(one)
    assert EditLog(path).records == written


def test_a_record_is_on_the_disk_before_append_returns(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[str] = []
    really = os.fsync

    def fsync(handle: int) -> None:
        if path.exists() and not Path(f"/proc/self/fd/{handle}").is_dir():
            synced.append(path.read_text())
        really(handle)

    monkeypatch.setattr(os, "fsync", fsync)
    EditLog(path).append(record(1, murmur_grade=3))
    assert json.loads(synced[-1])["payload"] == {"murmur_grade": 3}


@pytest.mark.parametrize("kept_bytes", [1, 10, 40])
def test_a_line_that_a_crash_cut_off_is_passed_over_and_said(
    path: Path, kept_bytes: int
) -> None:
    log = EditLog(path)
    log.append(record(1, murmur_grade=3))
    whole = path.read_bytes()
    log.append(record(2, murmur_grade=4))
    path.write_bytes(whole + path.read_bytes()[len(whole) :][:kept_bytes])
    after = EditLog(path)
    assert [one.version for one in after.records] == [1]
    assert after.cut_off == 1


def test_work_goes_on_after_a_line_that_was_cut_off(path: Path) -> None:
    log = EditLog(path)
    log.append(record(1, murmur_grade=3))
    with path.open("ab") as stream:
        stream.write(b'{"version": 2, "at": "20')
    EditLog(path).append(record(2, murmur_grade=5))
    assert [one.payload for one in EditLog(path).records] == [
        {"murmur_grade": 3},
        {"murmur_grade": 5},
    ]


def test_earlier_bytes_are_never_rewritten(path: Path) -> None:
    log = EditLog(path)
    seen = b""
    for version in range(1, 6):
        log.append(record(version, murmur_grade=version))
        now = path.read_bytes()
        assert now.startswith(seen)
        seen = now


def test_a_log_that_lost_a_line_in_its_middle_is_not_used(path: Path) -> None:
    log = EditLog(path)
    for version in (1, 2, 3):
        log.append(record(version))
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(lines[0] + lines[2])
    with pytest.raises(LogBroken, match="version 3 where 2 is due"):
        EditLog(path)


def test_a_record_that_the_disk_refused_leaves_no_trace(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = EditLog(path)
    log.append(record(1, murmur_grade=3))

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        with pytest.raises(NotKept, match="No space left"):
            log.append(record(2, murmur_grade=4))
    log.append(record(2, murmur_grade=5))
    assert [one.payload["murmur_grade"] for one in EditLog(path).records] == [3, 5]
