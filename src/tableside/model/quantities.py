"""The catalogue of quantities, read from ``data/quantities.toml`` and ``data/spreads.toml``.

A practice's own file of spreads may take the place of the defaults, a quantity and part each.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from tableside.errors import DataError, InputError, NotFound, OutOfRange
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
PARTS = ("beat", "acquisition", "reading")
LARGEST_PERCENT = 100


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


def quantities(practice: Path | None = None) -> Mapping[str, Quantity]:
    """Return the whole catalogue by id.

    Parameters
    ----------
    practice : Path, optional
        A practice's own spreads, as ``tableside repeatability`` writes them.

    Raises
    ------
    InputError
        When that file cannot be used; the message names the entry.
    """
    return _shipped() if practice is None else _with_own_spreads(practice)


def quantity(id_: str, practice: Path | None = None) -> Quantity:
    """Return one quantity; the error lists the known ones."""
    known = quantities(practice)
    if id_ not in known:
        raise NotFound(f"no quantity {id_!r}; there are {', '.join(known)}")
    return known[id_]


@cache
def _shipped() -> Mapping[str, Quantity]:
    lines, spreads = _load("quantities.toml"), _load("spreads.toml")
    return {id_: _quantity(id_, line, spreads) for id_, line in lines.items()}


def _with_own_spreads(path: Path) -> Mapping[str, Quantity]:
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError(
            f"{path.name}: cannot be read as TOML ({error}). Make it with "
            "`tableside repeatability FILE.csv --out FILE.toml`."
        ) from error
    own = raw.get("quantity", {})
    if raw.keys() - {"quantity"} or not isinstance(own, dict):
        raise InputError(f"{path.name}: has {sorted(raw)}; allowed is [quantity.NAME] alone.")
    strange = sorted(own.keys() - _shipped().keys())
    if strange:
        raise InputError(
            f"{path.name}: no quantity {', '.join(strange)}; there are {', '.join(_shipped())}"
        )
    return {
        id_: replace(entry, variation=_own_variation(path.name, entry, own[id_]))
        if id_ in own
        else entry
        for id_, entry in _shipped().items()
    }


def _own_variation(name: str, entry: Quantity, line: object) -> Variation:
    if not isinstance(line, dict) or not line.keys() <= set(PARTS):
        raise InputError(f"{name}: {entry.id} has {line!r}; allowed are {', '.join(PARTS)}.")
    for part, percent in line.items():
        is_number = isinstance(percent, int | float) and not isinstance(percent, bool)
        if not is_number or not 0 <= percent <= LARGEST_PERCENT:
            raise InputError(
                f"{name}: {entry.id}, {part} = {percent!r}; allowed 0 to {LARGEST_PERCENT} "
                "percent. Is it a share? Multiply it by 100."
            )
    return replace(entry.variation, **{part: one / 100 for part, one in line.items()})


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
