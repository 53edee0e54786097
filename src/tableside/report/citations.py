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
    """Hands out numbers to sources, and keeps whom their limits were read in."""

    populations: dict[str, list[str]] = field(default_factory=dict)

    def mark(self, source: str, population: str | None = None) -> str:
        """Return ``[1]`` or ``[1, 4]`` for the keys of a source."""
        keys = [key for key in SEPARATORS.split(source) if key]
        for key in keys:
            known = self.populations.setdefault(key, [])
            if population and population not in known:
                known.append(population)
        order = list(self.populations)
        return f"[{', '.join(str(order.index(key) + 1) for key in keys)}]" if keys else ""

    def listed(self) -> list[dict[str, str]]:
        """Return citation and populations in the order of the numbers."""
        return [
            {"text": citation(key), "limits": "; ".join(populations)}
            for key, populations in self.populations.items()
        ]
