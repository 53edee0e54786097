"""Write a worksheet: the facts that stored images do not carry."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum

from tableside.model import Caliper, Patient, Visit

Value = str | int | float | bool | dt.date | Sequence["Value"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Labels:
    """What a person says about one image, and what they measured on it."""

    file: str
    view: str
    mmode: str | None = None
    flow: str | None = None
    calipers: tuple[Caliper, ...] = ()


def worksheet(patient: Patient, visit: Visit, made: Sequence[Labels]) -> str:
    """Return the text of ``worksheet.toml``; facts that are None are left out."""
    parts = [toml_table("patient", _known(asdict(patient), without=("owner",)))]
    parts.append(toml_table("visit", _known(asdict(visit))))
    for image in made:
        table = _known(asdict(image), without=("calipers",))
        parts.append(toml_table("image", table, repeated=True))
    for image in made:
        parts += [_caliper(caliper) for caliper in image.calipers]
    return "\n".join(parts)


def toml_table(name: str, values: Mapping[str, Value], *, repeated: bool = False) -> str:
    """Return one table, or one entry of an array of tables."""
    head = f"[[{name}]]" if repeated else f"[{name}]"
    lines = [f"{_key(key)} = {_toml(value)}" for key, value in values.items()]
    return "\n".join([head, *lines, ""])


def _caliper(caliper: Caliper) -> str:
    points = [[round(x, 2), round(y, 2)] for x, y in caliper.points]
    return toml_table(
        "caliper",
        {
            "quantity": caliper.quantity,
            "file": caliper.file,
            "frame": caliper.frame,
            "points": points,
        },
        repeated=True,
    )


def _known(values: Mapping[str, Value | None], without: Sequence[str] = ()) -> dict[str, Value]:
    return {
        key: value
        for key, value in values.items()
        if value is not None and value != () and key not in without
    }


def _key(key: str) -> str:
    return key if key.replace("_", "").isalnum() else _quoted(key)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _toml(value: Value) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str | StrEnum):
        return _quoted(str(value))
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, int | float):
        return repr(round(value, 5))
    return "[" + ", ".join(_toml(one) for one in value) + "]"
