"""Which records of a log count: undo and redo resolved, conflicts found."""

from collections.abc import Iterator, Sequence

from tableside.corrections.names import parse_beat
from tableside.errors import InputError, NotFound
from tableside.store.edit_log import EditRecord

Thing = tuple[str, ...]


class Conflict(InputError):
    """Someone else changed the same thing meanwhile."""

    code = "conflict"

    def __init__(self, message: str, newer: Sequence[EditRecord]) -> None:
        super().__init__(message)
        self.newer = tuple(newer)


class NothingToUndo(InputError):
    """There is no edit of this editor left to undo or redo."""

    code = "nothing-to-undo"


def undone_versions(records: Sequence[EditRecord]) -> frozenset[int]:
    """Return the versions of the edits that are undone now."""
    undone: set[int] = set()
    for record in records:
        if record.undoes is not None:
            undone.add(record.undoes)
        if record.redoes is not None:
            undone.discard(record.redoes)
    return frozenset(undone)


def effective(records: Sequence[EditRecord]) -> list[EditRecord]:
    """Return the edits that count, in order."""
    undone = undone_versions(records)
    return [one for one in records if _is_edit(one) and one.version not in undone]


def to_undo(records: Sequence[EditRecord], who: str, version: int | None) -> EditRecord:
    """Return the edit that an undo means: the editor's newest that counts, or the given one.

    Raises
    ------
    NothingToUndo, NotFound
        When there is none.
    """
    counting = effective(records)
    if version is not None:
        found = next((one for one in counting if one.version == version), None)
        if found is None:
            raise NotFound(f"edit {version} is none, or is undone already")
        return found
    mine = [one for one in counting if one.who == who]
    if not mine:
        raise NothingToUndo("nothing that you did is left to undo")
    return mine[-1]


def to_redo(records: Sequence[EditRecord], who: str) -> EditRecord:
    """Return the edit that a redo means: the editor's last undone one, unless work went on.

    Raises
    ------
    NothingToUndo
        When there is none.
    """
    by_version = {one.version: one for one in records}
    waiting: list[EditRecord] = []
    for record in records:
        if record.who != who:
            continue
        if record.undoes is not None:
            waiting.append(by_version[record.undoes])
        elif record.redoes is not None:
            waiting = [one for one in waiting if one.version != record.redoes]
        else:
            waiting.clear()
    undone = undone_versions(records)
    waiting = [one for one in waiting if one.version in undone]
    if not waiting:
        raise NothingToUndo("nothing is left to redo")
    return waiting[-1]


def require_no_conflict(
    records: Sequence[EditRecord], new: EditRecord, base_version: int
) -> list[EditRecord]:
    """Return what others did since ``base_version``, all of it about other things.

    Raises
    ------
    Conflict
        When one of them changed what the new edit changes or relies on.
    """
    others = [one for one in records if one.version > base_version and one.who != new.who]
    mine = set(_changes(new, records)) | set(_relies_on(new, records))
    clashing = [one for one in others if mine & set(_changes(one, records))]
    if clashing:
        raise Conflict(
            "someone else changed this meanwhile; look at the newer state and do it again "
            "if it is still wanted",
            clashing,
        )
    return others


def _is_edit(record: EditRecord) -> bool:
    return record.undoes is None and record.redoes is None


def _target(record: EditRecord, records: Sequence[EditRecord]) -> EditRecord:
    version = record.undoes or record.redoes
    return next((one for one in records if one.version == version), record)


def _changes(record: EditRecord, records: Sequence[EditRecord]) -> Iterator[Thing]:
    """Yield the names of everything that a record changes."""
    record = _target(record, records)
    payload = record.payload
    if record.kind in ("label", "scale", "line"):
        yield record.kind, payload["file"]
    elif record.kind in ("move", "beat", "remove"):
        yield "beat", payload["beat"]
        yield "number", parse_beat(payload["beat"]).measurement
    elif record.kind == "caliper":
        yield "caliper", str(record.version)
    elif record.kind == "decide":
        yield "decision", payload["measurement"]
    elif record.kind == "accept_unremarkable":
        yield from (("decision", one) for one in payload["measurements"])
    elif record.kind == "visit":
        yield from (("fact", name) for name in payload)


def _relies_on(record: EditRecord, records: Sequence[EditRecord]) -> Iterator[Thing]:
    """Yield the names of what must not have changed under a record."""
    record = _target(record, records)
    payload = record.payload
    if record.kind in ("move", "beat", "remove"):
        file = parse_beat(payload["beat"]).file
        yield from (("label", file), ("scale", file))
    elif record.kind in ("caliper", "line"):
        yield "scale", payload["file"]
    elif record.kind == "decide":
        yield "number", payload["measurement"]
    elif record.kind == "accept_unremarkable":
        yield from (("number", one) for one in payload["measurements"])
