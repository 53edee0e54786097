"""What is decided, what a wrong decision costs and what can be repeated: ``data/losses.toml``.

A practice may use a file of its own of the same shape.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar

from tableside.credibility.manoeuvres import manoeuvres
from tableside.errors import InputError
from tableside.model import Species

RULES = {"all above", "any above", "bands", "grades", "as read"}
HOWS = {"same sweep", "fresh sweep", "new window", "cuff series"}
WHENS = {"recorded", "missing"}
SECTIONS = {"stop", "first", "decision", "repeat"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """One decision: its rule, the numbers it hangs on, and what a wrong one costs."""

    id: str
    question: str
    rule: str
    numbers: tuple[str, ...]
    concerns: tuple[str, ...]
    missed: float
    false: float
    species: Species | None = None
    guideline: str | None = None
    band: str | None = None
    tolerance: float = 0.0
    noted: Mapping[str, str] = field(default_factory=dict)
    unless_heart_failure: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """One thing that can be done: what it reads, and what of the error is new in it."""

    id: str
    manoeuvre: str
    how: str
    readings: tuple[str, ...]
    when: str
    serves: tuple[str, ...]
    needs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """When to stop asking."""

    cost_of_30_s: float
    settled: float
    tries: int


@dataclass(frozen=True, slots=True, kw_only=True)
class First:
    """One repeat that goes before another while few readings stand behind it."""

    repeat: str
    before: str
    readings_below: int
    unusable_below: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Losses:
    """The whole file."""

    stop: Stop
    first: First
    decisions: tuple[Decision, ...]
    repeats: tuple[Repeat, ...]


_Line = TypeVar("_Line", Decision, Repeat)


def losses(path: Path | None = None) -> Losses:
    """Return the shipped losses, or those of a practice's own file.

    Raises
    ------
    InputError
        When the file cannot be read or breaks the shape; the message names the entry.
    """
    if path is None:
        return _shipped()
    try:
        return parse(path.name, path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path}: cannot be read ({error}). Give a TOML file.") from error


@cache
def _shipped() -> Losses:
    path = files("tableside") / "data" / "losses.toml"
    return parse("losses.toml", path.read_text(encoding="utf-8"))


def parse(name: str, text: str) -> Losses:
    """Make losses of the text of a file, or say which entry is wrong."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{name}: {error}. Compare it with data/losses.toml.") from error
    if raw.keys() != SECTIONS:
        raise InputError(f"{name}: has {sorted(raw)}; it needs {sorted(SECTIONS)}.")
    try:
        found = Losses(
            stop=Stop(**raw["stop"]),
            first=First(**raw["first"]),
            decisions=tuple(_decision(id_, one) for id_, one in raw["decision"].items()),
            repeats=tuple(_repeat(id_, one) for id_, one in raw["repeat"].items()),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(f"{name}: {error}. Compare it with data/losses.toml.") from error
    _require_sense(name, found)
    return found


def _decision(id_: str, line: Mapping[str, Any]) -> Decision:
    if line["rule"] not in RULES:
        raise ValueError(f"decision {id_} has rule {line['rule']!r}; {_list(RULES)}")
    if not (line["missed"] >= 0 and line["false"] >= 0):
        raise ValueError(f"decision {id_}: a cost is below 0")
    return _record(Decision, id_, line)


def _repeat(id_: str, line: Mapping[str, Any]) -> Repeat:
    for key, known in (("how", HOWS), ("when", WHENS)):
        if line[key] not in known:
            raise ValueError(f"repeat {id_} has {key} {line[key]!r}; {_list(known)}")
    named = line.get("manoeuvre", id_)
    if named not in manoeuvres():
        raise ValueError(f"repeat {id_}: no manoeuvre {named!r} in manoeuvres.toml")
    return _record(Repeat, id_, {"manoeuvre": named, **line})


def _record(kind: type[_Line], id_: str, line: Mapping[str, Any]) -> _Line:
    known = {one.name for one in fields(kind)} - {"id"}
    if not line.keys() <= known:
        raise ValueError(f"{id_} has unknown keys {sorted(line.keys() - known)}")
    plain: dict[str, Any] = {
        key: tuple(one) if isinstance(one, list) else one for key, one in line.items()
    }
    if "species" in plain:
        plain["species"] = Species(plain["species"])
    return kind(id=id_, **plain)


def _require_sense(name: str, found: Losses) -> None:
    stop = found.stop
    if not (0.5 < stop.settled <= 1 and stop.cost_of_30_s >= 0 and stop.tries >= 1):
        raise InputError(
            f"{name}: [stop] has settled = {stop.settled:g}, cost_of_30_s = "
            f"{stop.cost_of_30_s:g}, tries = {stop.tries}; allowed above 0.5 to 1, 0 or more, "
            "1 or more."
        )
    known = {one.id for one in found.decisions}
    for repeat in found.repeats:
        if not set(repeat.serves) <= known:
            raise InputError(
                f"{name}: repeat {repeat.id} serves {sorted(set(repeat.serves) - known)}; "
                f"{_list(known)}."
            )


def _list(known: set[str]) -> str:
    return f"there are {', '.join(sorted(known))}"
