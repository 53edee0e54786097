"""Records of the log as pages show them."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from tableside.corrections.names import parse_beat
from tableside.model import Image
from tableside.server.events import Event
from tableside.store.edit_log import EditRecord

Payload = Mapping[str, Any]


def edit_json(record: EditRecord) -> dict[str, Any]:
    """Return what a record says by itself."""
    return {
        "version": record.version,
        "at": record.at,
        "who": record.who,
        "kind": record.kind,
        "text": in_words(record),
        "undone": False,
        "undoes": record.undoes,
        "redoes": record.redoes,
    }


def edit_news(record: EditRecord, images: Sequence[Image]) -> Event:
    """Return the news of a record for the pages of other editors."""
    file = file_of(record)
    number = next((at for at, image in enumerate(images) if image.file == file), None)
    data = {
        "version": record.version,
        "kind": record.kind,
        "who": record.who,
        "image": number,
    }
    return Event(kind="edit", id=record.version, data=data)


def in_words(record: EditRecord) -> str:
    """Return what a record did, in a few words."""
    if record.undoes is not None:
        return f"undid edit {record.undoes}"
    if record.redoes is not None:
        return f"redid edit {record.redoes}"
    file = file_of(record)
    return WORDS[record.kind](record.payload) + (f" on {file}" if file else "")


def file_of(record: EditRecord) -> str | None:
    """Return the image that a record is about, by its file; None for one about the study."""
    if "beat" in record.payload:
        return parse_beat(record.payload["beat"]).file
    file = record.payload.get("file")
    return str(file) if file is not None else None


def _quantity(payload: Payload) -> str:
    return parse_beat(payload["beat"]).measurement.split("/")[0]


def _label(payload: Payload) -> str:
    given = [str(payload[key]) for key in ("view", "mmode", "flow") if payload.get(key)]
    return f"labelled {', '.join(given)}" if given else "took the label away"


WORDS: Mapping[str, Callable[[Payload], str]] = {
    "label": _label,
    "caliper": lambda payload: f"measured {payload['quantity']}",
    "move": lambda payload: f"moved {_quantity(payload)}",
    "beat": lambda payload: (
        f"took a beat back into {_quantity(payload)}"
        if payload["used"]
        else f"left a beat out of {_quantity(payload)}"
    ),
    "remove": lambda payload: f"removed {_quantity(payload)}",
    "scale": lambda payload: "set the scale" if payload.get("scale") else "took the scale away",
    "decide": lambda payload: f"{payload['state']}: {payload['measurement'].split('/')[0]}",
    "accept_unremarkable": lambda payload: (
        f"accepted {len(payload['measurements'])} unremarkable numbers"
    ),
    "line": lambda _: "drew an M-mode line",
    "visit": lambda payload: f"noted {', '.join(name.replace('_', ' ') for name in payload)}",
}
