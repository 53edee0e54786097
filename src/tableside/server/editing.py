"""Edits and previews of a study: shapes in, shapes out."""

from typing import Any

from tableside.corrections.history import to_redo, to_undo, undone_versions
from tableside.corrections.names import measurement_id
from tableside.corrections.run import previewed
from tableside.errors import TablesideError
from tableside.model import Measurement, Reading
from tableside.server.document import (
    difference,
    numbers_json,
    numbers_of,
    refused_json,
)
from tableside.server.in_words import edit_json, file_of
from tableside.server.live_study import LiveStudy, State, now_utc, require_effect
from tableside.server.payloads import log_payload
from tableside.server.shapes.edits import EditGiven, PreviewGiven, RedoEdit, UndoEdit
from tableside.store.edit_log import EditRecord

Json = dict[str, Any]


def edit(live: LiveStudy, given: EditGiven) -> Json:
    """Keep an edit; return what changed since the version that the editor saw."""

    def make(state: State, version: int) -> EditRecord:
        return _record(live, given, state, version)

    done = live.edit(make, given.base_version)
    changes = changes_since(live, given.base_version)
    changes["kept"] = done.record.version
    changes["merged"] = [one.version for one in done.merged]
    return changes


def changes_since(live: LiveStudy, version: int) -> Json:
    """Return what a page needs that shows an older version."""
    with live.lock:
        state = live.require_state()
        before = live.state_at(version)
        told: Json = {
            "version": state.version,
            "refused": refused_json(state.now, numbers_of(live.opened.study.images)),
            "edits": [one for one in edits_json(live) if one["version"] > version],
            "merged": [],
        }
        if before is None:
            told["reading"] = state.document
        else:
            told["changed"] = difference(before.document, state.document)
        return told


def preview(live: LiveStudy, given: PreviewGiven) -> Json:
    """Return the numbers, indices and checks that an edit would change; keep nothing."""
    state = live.require_state()
    try:
        record = _record(live, given, state, state.version + 1)
        records = (*live.log.records[: state.version], record)
        now = previewed(live.opened.study, records, live.looks, state.now.reading)
        require_effect(record, state.now, now)
    except TablesideError as error:
        return {"changed": {}, "problem": str(error)}
    before, after = state.now.reading, now.reading
    parts = (
        [one for one in after.exam.measurements if one not in before.exam.measurements],
        [one for one in after.exam.indices if one not in before.exam.indices],
        [one for one in after.checks if one not in before.checks],
    )
    changed = numbers_json(parts, now, numbers_of(live.opened.study.images))
    changed["removed"] = _removed(before, after)
    return {"changed": changed, "problem": None}


def edits_json(live: LiveStudy) -> list[Json]:
    """Return the whole log as pages see it."""
    numbers = numbers_of(live.opened.study.images)
    undone = undone_versions(live.log.records)
    state = live.state
    without_effect = state.now.without_effect if state else {}
    return [
        {
            **edit_json(one),
            "image": numbers.get(file_of(one) or ""),
            "undone": one.version in undone,
            "note": without_effect.get(one.version),
        }
        for one in live.log.records
    ]


def _record(
    live: LiveStudy, given: EditGiven | PreviewGiven, state: State, version: int
) -> EditRecord:
    common: Json = {"version": version, "at": now_utc(), "who": given.who, "kind": given.kind}
    records = live.log.records
    if isinstance(given, UndoEdit):
        undone = to_undo(records, given.who, given.payload.version)
        return EditRecord(**common, payload={}, undoes=undone.version)
    if isinstance(given, RedoEdit):
        return EditRecord(**common, payload={}, redoes=to_redo(records, given.who).version)
    payload = log_payload(given, state.now, live.opened.study.images)
    return EditRecord(**common, payload=payload)


def _removed(before: Reading, after: Reading) -> dict[str, list[str]]:
    def ids(found: tuple[Measurement, ...]) -> list[str]:
        return [measurement_id(one) for one in found]

    pairs = {
        "measurements": (ids(before.exam.measurements), ids(after.exam.measurements)),
        "indices": (
            [one.name for one in before.exam.indices],
            [one.name for one in after.exam.indices],
        ),
        "checks": ([one.id for one in before.checks], [one.id for one in after.checks]),
    }
    gone = {name: [one for one in old if one not in new] for name, (old, new) in pairs.items()}
    return {name: ids for name, ids in gone.items() if ids}
