"""One file a publication, read and checked: unknown keys and unordered limits are refused."""

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Any

from tableside.errors import DataError, NotFound
from tableside.model import Sex, Species, quantities
from tableside.reference.laws import (
    Allometric,
    Band,
    Bands,
    Interval,
    Law,
    Linear,
    Normal,
    Percentiles,
)
from tableside.units import convert, is_unit

KINDS: Mapping[str, type[Any]] = {
    "interval": Interval,
    "range": Interval,
    "allometric": Allometric,
    "percentiles": Percentiles,
    "normal": Normal,
    "linear": Linear,
    "bands": Bands,
}
READ = ("page", "indirect", "computed", "memory")
CONFIDENCE = ("high", "medium", "low")
ENDS = ("low", "centre", "high")
PERCENTILES = ("p2_5", "p5", "p25", "p50", "p75", "p95", "p97_5")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Limits of one publication for one population, by one method.

    ``rank`` orders publications that answer the same question, the primary first. ``read``
    says where the digits were read and ``confidence`` how far to trust them.
    """

    source: str
    locator: str
    population: str
    species: Species
    kind: str
    unit: str
    rows: Mapping[str, Law]
    read: str
    confidence: str
    n: int | None = None
    weight_kg: tuple[float, float] | None = None
    age_from_y: float = 1.0
    breeds: tuple[str, ...] = ()
    not_breeds: tuple[str, ...] = ()
    sex: str | None = None
    detail: str | None = None
    method: str | None = None
    note: str | None = None
    url: str | None = None
    rank: int = 50

    def is_for_sex(self, sex: Sex | None) -> bool:
        """Return whether the table holds for an animal of this sex."""
        if self.sex is None:
            return True
        return sex is not None and sex.is_male == (self.sex == "M")


KEYS = {field.name for field in fields(Table)}


@cache
def tables() -> tuple[Table, ...]:
    """Return every table that ships with tableside, in the order of file names."""
    folder = files("tableside") / "data" / "reference"
    found: list[Table] = []
    for path in sorted(folder.iterdir(), key=lambda one: one.name):
        if path.name.endswith(".toml"):
            found.extend(read_publication(path.name, path.read_text(encoding="utf-8")))
    return tuple(found)


def read_publication(name: str, text: str) -> tuple[Table, ...]:
    """Read one file: what stands at its top holds for every table unless the table says else.

    Raises
    ------
    DataError
        For an unknown or missing key, an unknown kind, unit or source of digits, or limits out
        of order.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise DataError(f"{name}: {error}") from error
    parts = raw.pop("table", None)
    if not isinstance(parts, list):
        raise DataError(f"{name}: no [[table]]; there must be at least one")
    return tuple(_table(name, {**raw, **part}) for part in parts)


def _table(name: str, raw: dict[str, Any]) -> Table:
    if unknown := raw.keys() - KEYS:
        raise DataError(f"{name}: unknown keys {', '.join(sorted(unknown))}")
    needed = {"source", "locator", "population", "species", "kind", "unit", "rows", "read"}
    if missing := (needed | {"confidence"}) - raw.keys():
        raise DataError(f"{name}: keys {', '.join(sorted(missing))} are missing")
    _check_words(name, raw)
    for key in ("weight_kg", "breeds", "not_breeds"):
        if key in raw:
            raw[key] = tuple(raw[key])
    _check_order(name, "weight_kg", raw.get("weight_kg", ()))
    _check_units(name, raw["unit"], raw["rows"])
    rows = {row: _law(f"{name}: {row}", raw["kind"], raw["rows"][row]) for row in raw["rows"]}
    return Table(**{**raw, "species": Species(raw["species"]), "rows": rows})


def _check_units(name: str, unit: str, rows: Iterable[str]) -> None:
    for row in rows:
        if row not in quantities():
            continue  # an index: its unit is that of the table
        try:
            convert(1.0, unit, quantities()[row].unit)
        except NotFound as error:
            raise DataError(f"{name}: {row}: {error}") from error


def _check_words(name: str, raw: Mapping[str, Any]) -> None:
    allowed: Mapping[str, Sequence[str]] = {
        "kind": tuple(KINDS),
        "read": READ,
        "confidence": CONFIDENCE,
        "species": tuple(Species),
        "sex": ("F", "M"),
    }
    for key, words in allowed.items():
        if key in raw and raw[key] not in words:
            raise DataError(f"{name}: {key} = {raw[key]!r}; allowed {', '.join(words)}")
    if not is_unit(raw["unit"]):
        raise DataError(f"{name}: unit = {raw['unit']!r} is not in the list of units")


def _law(where: str, kind: str, row: Any) -> Law:
    if kind == "bands":
        bands = tuple(_filled(where, Band, one) for one in row)
        for one in bands:
            _check_ends(where, one)
        _check_order(
            where, "bands", tuple(end for one in bands for end in (one.from_kg, one.to_kg))
        )
        return Bands(bands)
    law = _filled(where, KINDS[kind], row)
    if isinstance(law, Interval | Allometric):
        _check_ends(where, law)
    if isinstance(law, Percentiles):
        _check_order(where, "percentiles", tuple(row[key] for key in PERCENTILES))
    if isinstance(law, Normal | Linear) and not law.sd > 0:
        raise DataError(f"{where}: sd = {law.sd}; allowed above 0")
    return law  # type: ignore[no-any-return]


def _filled(where: str, law: type[Any], row: Mapping[str, Any]) -> Any:
    try:
        return law(**{key: float(value) for key, value in row.items()})
    except (TypeError, ValueError, AttributeError) as error:
        raise DataError(f"{where}: {error}") from error


def _check_ends(where: str, law: Interval | Allometric | Band) -> None:
    if law.low is None and law.high is None:
        raise DataError(f"{where}: neither low nor high; give at least one limit")
    given = tuple(end for key in ENDS if (end := getattr(law, key)) is not None)
    _check_order(where, "low, centre, high", given)


def _check_order(where: str, what: str, given: Sequence[float]) -> None:
    strict = what != "bands"
    for one, other in pairwise(given):
        if one > other or (strict and one == other):
            raise DataError(f"{where}: {what} = {list(given)} is not in rising order")


def names() -> Iterator[str]:
    """Yield the name of every quantity and index that some table has limits for."""
    seen = dict.fromkeys(row for table in tables() for row in table.rows)
    yield from seen
