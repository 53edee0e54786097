"""The constants of the exam model, read from ``data/exam_model.toml``, and the options."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from math import log
from typing import Any

from tableside.errors import DataError
from tableside.model import Species

CANINE_ONLY = "canine relations between load, pressures, filling and times"
WIDER = 1.5  # an animal of unknown species: the dog's sizes, wider


@dataclass(frozen=True, slots=True, kw_only=True)
class FitOptions:
    """How the model is fitted. Change these, not the code.

    ``faults`` off takes every reading as sound. ``spread_factor`` multiplies every prior
    spread, ``replaced`` single constants, both to see what hangs on them.
    """

    draws: int = 1500  # a round
    rounds: int = 4  # at least
    most_rounds: int = 10  # while the draws are worth fewer than `worth`
    worth: int = 800
    faults: bool = True
    suspects: int = 6  # explanations kept as starting points
    deepest: int = 3  # numbers that may be wrong at once in one starting point
    spread_factor: float = 1.0
    replaced: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class FaultKind:
    """One way for a reading to go wrong; ``off`` and ``sd`` as logs (mmHg for the cuff)."""

    kind: str
    share: float
    off: float
    sd: float
    is_low: bool = False


@dataclass(frozen=True, slots=True)
class Slip:
    """One way for all readings of a scale to go wrong together; ``shift`` is a log factor."""

    kind: str
    share: float
    shift: float


Constants = Mapping[str, float]


def constants(species: Species | None, options: FitOptions) -> Constants:
    """Return the constants for a species; relations it lacks are absent."""
    raw = _raw()
    own = raw["cat"] if species is Species.CAT else raw["dog"]
    if species is None:
        own = {name: value for name, value in own.items() if not _is_relation(name)}
        own = {n: v * (WIDER if n.endswith(".sd") else 1.0) for n, v in own.items()}
    merged = {**raw["shared"], **own}
    factor = options.spread_factor
    if factor != 1.0:
        merged = {n: v * (factor if n.endswith(".sd") else 1.0) for n, v in merged.items()}
    return {**merged, **options.replaced}


def fault_kinds(family: str) -> tuple[FaultKind, ...]:
    """Return the ways in which a reading of this family goes wrong."""
    return _faults()[family]


@cache
def scale_slips() -> tuple[Slip, ...]:
    """Return the slips of a scale."""
    lines = _file()["slip"]["scale"]
    return tuple(Slip(one["kind"], one["share"], log(one["factor"])) for one in lines)


@cache
def swap_share() -> float:
    """Return the share of ventricles whose phases are swapped."""
    return float(_file()["slip"]["swap"][0]["share"])


def remedy(quantity: str, kind: str, dimension: str) -> str | None:
    """Return the id of the manoeuvre that settles a doubted reading, or None."""
    by_kind = _file()["remedy_of_kind"]
    own = by_kind.get(f"{kind} {dimension}", by_kind.get(kind))
    found = own or _file()["remedy"].get(quantity)
    return None if found is None else str(found)


def _is_relation(name: str) -> bool:
    return ".on_" in name


@cache
def _file() -> dict[str, Any]:
    path = files("tableside") / "data" / "exam_model.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


@cache
def _raw() -> dict[str, dict[str, float]]:
    found = {}
    for section in ("shared", "dog", "cat"):
        for name, line in _file()[section].items():
            if line.keys() not in ({"value", "source"}, {"value", "choice"}):
                raise DataError(f"exam_model.toml: {name} needs a value and a source or choice")
        found[section] = {name: float(one["value"]) for name, one in _file()[section].items()}
    return found


@cache
def _faults() -> dict[str, tuple[FaultKind, ...]]:
    return {
        family: tuple(
            FaultKind(
                one["kind"], one["share"], one["off"], one["sd"], one.get("side") == "low"
            )
            for one in lines
        )
        for family, lines in _file()["fault"].items()
    }
