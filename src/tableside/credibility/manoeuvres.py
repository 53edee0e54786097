"""What to do at the table: one manoeuvre a line, read from ``data/manoeuvres.toml``."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from tableside.errors import DataError, NotFound

LONGEST_S = 180  # a cuff series; all others take a minute or less
PARTS = ("window", "tilt", "gain", "baseline", "sweep", "then")
KEYS = {"action", "seconds", *PARTS}


@dataclass(frozen=True, slots=True)
class Manoeuvre:
    """One thing to do while the patient lies there, and how long it takes."""

    id: str
    sentence: str
    seconds: int


def manoeuvre(id_: str) -> Manoeuvre:
    """Return one manoeuvre; the error lists the known ones."""
    known = manoeuvres()
    if id_ not in known:
        raise NotFound(f"no manoeuvre {id_!r}; there are {', '.join(known)}")
    return known[id_]


@cache
def manoeuvres() -> Mapping[str, Manoeuvre]:
    """Return all manoeuvres by id; refuse a file that breaks the schema."""
    path = files("tableside") / "data" / "manoeuvres.toml"
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    return {id_: _manoeuvre(id_, line) for id_, line in raw.items()}


def _manoeuvre(id_: str, line: Mapping[str, object]) -> Manoeuvre:
    if not {"action", "seconds"} <= line.keys() <= KEYS:
        raise DataError(f"manoeuvres.toml: {id_} has keys {sorted(line)}")
    seconds = line["seconds"]
    if not isinstance(seconds, int) or not 0 < seconds <= LONGEST_S:
        raise DataError(f"manoeuvres.toml: {id_} takes {seconds} s; allowed 1 to {LONGEST_S}")
    details = "; ".join(str(line[part]) for part in PARTS if part in line)
    action = str(line["action"])
    return Manoeuvre(id_, f"{action}: {details}." if details else f"{action}.", seconds)
