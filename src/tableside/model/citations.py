"""The publications behind the numbers and rules, read from ``data/references.toml``."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from tableside.errors import NotFound


@dataclass(frozen=True, slots=True)
class Citation:
    """One publication: the key that records carry, its text, and its DOI where known."""

    key: str
    text: str
    doi: str | None = None


@cache
def citations() -> Mapping[str, Citation]:
    """Return every publication by key."""
    path = files("tableside") / "data" / "references.toml"
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    return {key: Citation(key, **line) for key, line in raw.items()}


def citation(key: str) -> Citation:
    """Return one publication."""
    if key not in citations():
        raise NotFound(f"no publication {key!r} in references.toml")
    return citations()[key]
