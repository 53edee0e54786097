"""The catalogue of quantities, read from ``data/quantities.toml`` and ``data/spreads.toml``."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from tableside.errors import DataError, NotFound, OutOfRange
from tableside.units import is_unit, text

KINDS = (
    "length",
    "lateral length",
    "velocity",
    "time",
    "vti",
    "gradient",
    "area",
    "volume",
    "rate",
)


@dataclass(frozen=True, slots=True)
class Variation:
    """Coefficients of variation, as shares: between beats, sweeps and readers."""

    beat: float
    acquisition: float
    reading: float


@dataclass(frozen=True, slots=True)
class Quantity:
    """One line of the catalogue."""

    id: str
    name: str
    unit: str
    kind: str
    low: float
    high: float
    variation: Variation

    def require_plausible(self, value: float) -> None:
        """Raise `OutOfRange` for a value that no dog or cat can have."""
        if not self.low <= value <= self.high:
            raise OutOfRange(
                f"{self.id} = {value:.3g} {text(self.unit)}; a dog or cat has "
                f"{self.low:g} to {self.high:g}. Check the points, the frame and the scale."
            )


@cache
def quantities() -> Mapping[str, Quantity]:
    """Return the whole catalogue by id."""
    lines, spreads = _load("quantities.toml"), _load("spreads.toml")
    return {id_: _quantity(id_, line, spreads) for id_, line in lines.items()}


def quantity(id_: str) -> Quantity:
    """Return one quantity; the error lists the known ones."""
    known = quantities()
    if id_ not in known:
        raise NotFound(f"no quantity {id_!r}; there are {', '.join(known)}")
    return known[id_]


def _load(name: str) -> dict[str, Any]:
    path = files("tableside") / "data" / name
    return tomllib.loads(path.read_text(encoding="utf-8"))


def _quantity(id_: str, line: Mapping[str, Any], spreads: Mapping[str, Any]) -> Quantity:
    if line.keys() != {"name", "unit", "kind", "range"}:
        raise DataError(f"quantities.toml: {id_} has keys {sorted(line)}")
    low, high = line["range"]
    if line["kind"] not in KINDS or not is_unit(line["unit"]) or not 0 <= low < high:
        raise DataError(f"quantities.toml: {id_} has an unknown kind or unit, or no range")
    shares = spreads["quantity"].get(id_, spreads["kind"][line["kind"]])
    variation = Variation(**{part: percent / 100 for part, percent in shares.items()})
    return Quantity(id_, line["name"], line["unit"], line["kind"], low, high, variation)
