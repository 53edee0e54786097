"""Guidelines as data: ``data/guidelines/*.toml``, read strictly.

A file names its source, where in it, and how the digits were read (``page`` or ``memory``);
a limit that comes from elsewhere names its own source.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

from tableside.conclude.chance import share_above
from tableside.errors import DataError, NotFound
from tableside.model import Exam, Species

READ = {"page", "indirect", "computed", "memory"}
NEEDED = {"source", "locator", "read", "title"}
TABLES = {"limits", "ancillary", "bands", "points", "grades", "words", "lines", "ranges"}
ALLOWED = NEEDED | TABLES | {"species", "breeds", "cautions"}
OPERATORS = {">", ">=", "<", "<="}


@dataclass(frozen=True, slots=True)
class Limit:
    """One threshold as printed."""

    op: str
    value: float
    unit: str
    read: str
    source: str | None = None
    note: str | None = None

    def is_met(self, value: float) -> bool:
        """Return whether a number without error meets the limit."""
        return {
            ">": value > self.value,
            ">=": value >= self.value,
            "<": value < self.value,
            "<=": value <= self.value,
        }[self.op]

    def chance(self, value: float, sd: float) -> float:
        """Return the probability that the true number meets the limit."""
        if sd <= 0:
            return float(self.is_met(value))
        above = share_above(value, sd, self.value)
        return above if self.op.startswith(">") else 1 - above


@dataclass(frozen=True, slots=True)
class Bands:
    """Classes along one number; a value equal to an edge belongs below it."""

    edges: tuple[float, ...]
    labels: tuple[str, ...]
    unit: str
    read: str
    source: str | None = None

    def label(self, value: float) -> str:
        """Return the class of a number without error."""
        return self.labels[sum(value > edge for edge in self.edges)]


@dataclass(frozen=True, slots=True)
class Points:
    """Points of a score along one number, first rounded to the printed decimals."""

    edges: tuple[tuple[float, bool], ...]  # the cut, and whether it belongs to the band below
    points: tuple[int, ...]
    decimals: int

    def of(self, value: float) -> int:
        """Return the points of a number."""
        rounded = round(value + 1e-9, self.decimals)
        passed = sum(
            rounded > cut if is_below else rounded >= cut for cut, is_below in self.edges
        )
        return self.points[passed]


@dataclass(frozen=True, slots=True, kw_only=True)
class Guideline:
    """One published rule, as data."""

    id: str
    source: str
    locator: str
    read: str
    title: str
    species: Species | None = None
    breeds: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    limits: Mapping[str, Limit] = field(default_factory=dict)
    ancillary: Mapping[str, Limit] = field(default_factory=dict)
    bands: Mapping[str, Bands] = field(default_factory=dict)
    points: Mapping[str, Points] = field(default_factory=dict)
    grades: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    lines: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    ranges: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def is_for(self, exam: Exam) -> bool:
        """Return whether the guideline is made for this species and breed."""
        patient = exam.patient
        if self.species is not None and patient.species is not self.species:
            return False
        return not self.breeds or is_breed(patient.breed, self.breeds)


def is_breed(breed: str | None, names: tuple[str, ...] | list[str]) -> bool:
    """Return whether a breed, as a person writes it, is one of the names."""
    written = (breed or "").lower()
    return any(name.lower() in written for name in names)


def guideline(name: str) -> Guideline:
    """Return one guideline; the error lists the known ones."""
    shipped = shipped_guidelines()
    if name not in shipped:
        raise NotFound(f"no guideline {name!r}; there are {', '.join(sorted(shipped))}")
    return shipped[name]


@cache
def shipped_guidelines() -> Mapping[str, Guideline]:
    """Return every guideline of ``data/guidelines``; refuse one that breaks the schema."""
    folder = files("tableside") / "data" / "guidelines"
    found = {}
    for path in sorted(folder.iterdir(), key=lambda path: path.name):
        if path.name.endswith(".toml"):
            name = path.name.removesuffix(".toml")
            found[name] = parse(name, tomllib.loads(path.read_text(encoding="utf-8")))
    return found


def parse(name: str, raw: Mapping[str, Any]) -> Guideline:
    """Make a guideline of a parsed file, or say what is wrong with the file."""
    if not raw.keys() >= NEEDED or not raw.keys() <= ALLOWED or raw["read"] not in READ:
        raise DataError(f"{name}.toml: a key is missing or unknown, or `read` is not known")
    try:
        return Guideline(
            id=name,
            **{key: raw[key] for key in NEEDED},
            species=Species(raw["species"]) if "species" in raw else None,
            breeds=tuple(raw.get("breeds", ())),
            cautions=tuple(raw.get("cautions", ())),
            limits=_table(raw, "limits", _limit),
            ancillary=_table(raw, "ancillary", _limit),
            bands=_table(raw, "bands", _bands),
            points=_table(raw, "points", _points),
            grades=_table(raw, "grades", tuple),
            words=_table(raw, "words", str),
            lines=_table(raw, "lines", _line),
            ranges=_table(raw, "ranges", _range),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise DataError(f"{name}.toml: {error}") from error


def _table(raw: Mapping[str, Any], key: str, make: Any) -> dict[str, Any]:
    return {name: make(line) for name, line in raw.get(key, {}).items()}


def _limit(line: Mapping[str, Any]) -> Limit:
    limit = Limit(**line)
    if limit.op not in OPERATORS or limit.read not in READ:
        raise ValueError(f"a limit has operator {limit.op!r} and read {limit.read!r}")
    return limit


def _bands(line: Mapping[str, Any]) -> Bands:
    bands = Bands(**{**line, "edges": tuple(line["edges"]), "labels": tuple(line["labels"])})
    if list(bands.edges) != sorted(set(bands.edges)) or bands.read not in READ:
        raise ValueError("the edges of a band do not rise")
    if len(bands.labels) != len(bands.edges) + 1:
        raise ValueError("bands need one label more than edges")
    return bands


def _points(line: Mapping[str, Any]) -> Points:
    edges = []
    for text in line["edges"]:
        side, cut = text.split()
        if side not in {"below", "to"}:
            raise ValueError(f"an edge is 'below' or 'to' a number, not {text!r}")
        edges.append((float(cut), side == "to"))
    points = Points(tuple(edges), tuple(line["points"]), line["decimals"])
    if line.keys() != {"edges", "points", "decimals"} or len(points.points) != len(edges) + 1:
        raise ValueError("a score needs edges, points (one more) and decimals")
    return points


def _line(line: Mapping[str, Any]) -> tuple[float, float]:
    if line.keys() != {"slope", "intercept", "read"}:
        raise ValueError("a line needs slope, intercept and read")
    return line["slope"], line["intercept"]


def _range(line: Mapping[str, Any]) -> Mapping[str, Any]:
    keys = {"low", "high", "species", "breeds", "above_kg", "read", "source", "note"}
    if not {"low", "high", "species", "read"} <= line.keys() <= keys:
        raise ValueError("a range needs low, high, species and read")
    if not line["low"] < line["high"]:
        raise ValueError("a range is not low < high")
    return line
