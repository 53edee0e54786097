"""Sources, numbered in the order in which a letter names them."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

SEPARATORS = re.compile(r"[,;]\s*")


@cache
def _publications() -> Mapping[str, Any]:
    path = files("tableside") / "data" / "references.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def citation(key: str) -> str:
    """Return the full citation of a key; an unknown key stands for itself."""
    entry = _publications().get(key)
    if entry is None:
        return key
    text = str(entry["text"]).rstrip(".")
    return f"{text}. doi:{entry['doi']}" if "doi" in entry else f"{text}."


@dataclass(slots=True)
class Citations:
    """Hands out numbers to sources."""

    keys: list[str] = field(default_factory=list)

    def mark(self, source: str) -> str:
        """Return ``[1]`` or ``[1, 4]`` for the keys of a source."""
        numbers = [str(self._number(key)) for key in SEPARATORS.split(source) if key]
        return f"[{', '.join(numbers)}]" if numbers else ""

    def _number(self, key: str) -> int:
        if key not in self.keys:
            self.keys.append(key)
        return self.keys.index(key) + 1

    def listed(self) -> list[str]:
        """Return the citations in the order of their numbers."""
        return [citation(key) for key in self.keys]
