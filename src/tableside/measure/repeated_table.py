"""A table of repeated measurements: dogs x operators x days x readings, as CSV.

Columns ``dog, operator, day, reading, quantity, value``, and ``beat`` and ``unit`` if there are
any, in any order; separated by commas or, with decimal commas, by semicolons.
"""

import csv
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

from tableside.errors import InputError, NotFound
from tableside.model import quantity
from tableside.units import convert, text

NEEDED = ("dog", "operator", "day", "reading", "quantity", "value")
OPTIONAL = ("beat", "unit")
WIDEST = 4.0  # largest over smallest value of one dog; beyond it two units are mixed
FEWEST_DOGS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One value, in the unit of the catalogue, and who, when and how it was read."""

    dog: str
    operator: str
    day: str
    reading: str
    beat: str | None
    value: float
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatedTable:
    """All values of one quantity."""

    quantity: str
    unit: str
    rows: tuple[Row, ...]

    @property
    def dogs(self) -> tuple[str, ...]:
        """The animals, in order."""
        return tuple(dict.fromkeys(row.dog for row in self.rows))


def read_repeated(path: Path) -> tuple[RepeatedTable, ...]:
    """Read a table of repeated measurements, a quantity each.

    Raises
    ------
    InputError
        When the file or a cell cannot be used; the message names the line and what to do.
    """
    try:
        written = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not a text file in UTF-8"
        raise InputError(f"{path.name}: cannot be read, {reason}. Give a CSV file.") from error
    return tuple(_tables(path.name, written))


def _tables(name: str, written: str) -> Iterator[RepeatedTable]:
    lines = written.splitlines()
    has_semicolons = bool(lines) and ";" in lines[0]
    reader = csv.DictReader(lines, delimiter=";" if has_semicolons else ",")
    header = [(column or "").strip().lower() for column in reader.fieldnames or ()]
    missing = [column for column in NEEDED if column not in header]
    if missing:
        raise InputError(
            f"{name}: no column {', '.join(missing)}; the first line must name "
            f"{', '.join(NEEDED)} (and {' and '.join(OPTIONAL)} if there are any)."
        )
    reader.fieldnames = header
    by_quantity: dict[str, list[tuple[Row, str]]] = {}
    for cells in reader:
        at = f"{name}, line {reader.line_num}"
        found = _row(at, cells, reader.line_num, has_semicolons)
        by_quantity.setdefault(_cell(at, cells, "quantity"), []).append(found)
    if not by_quantity:
        raise InputError(f"{name}: no line below the header. Add one line a value.")
    for id_, rows in by_quantity.items():
        yield _table(name, id_, rows)


def _cell(at: str, cells: Mapping[str, str | None], column: str) -> str:
    value = (cells.get(column) or "").strip()
    if not value:
        raise InputError(f"{at}: {column} is empty. Fill it in or delete the line.")
    return value


def _row(
    at: str, cells: Mapping[str, str | None], line: int, has_decimal_comma: bool
) -> tuple[Row, str]:
    written = _cell(at, cells, "value")
    try:
        value = float(written.replace(",", ".") if has_decimal_comma else written)
    except ValueError:
        raise InputError(
            f"{at}: value is {written!r}; write a number such as 3.52, without a unit."
        ) from None
    id_ = _cell(at, cells, "quantity")
    unit = (cells.get("unit") or "").strip()
    if not (isfinite(value) and value > 0):
        raise InputError(f"{at}: {id_} = {written}; it must be above 0. Correct or delete it.")
    who = {column: _cell(at, cells, column) for column in NEEDED[:4]}
    beat = (cells.get("beat") or "").strip() or None
    return Row(**who, beat=beat, value=value, line=line), unit


def _table(name: str, id_: str, found: Sequence[tuple[Row, str]]) -> RepeatedTable:
    try:
        entry = quantity(id_)
    except NotFound as error:
        raise InputError(f"{name}, line {found[0][0].line}: {error}") from None
    units = sorted({unit for _, unit in found})
    if len(units) > 1:
        listed = " and ".join(unit or "no unit" for unit in units)
        raise InputError(
            f"{name}: {id_} is given in {listed}. Write all values in {text(entry.unit)}."
        )
    factor = _factor(name, id_, units[0], entry.unit)
    rows = tuple(_scaled(row, factor) for row, _ in found)
    for row in rows:
        _require_possible(name, id_, row)
    made = RepeatedTable(quantity=id_, unit=entry.unit, rows=rows)
    _require_one_unit(name, made)
    _require_repeats(name, made)
    return made


def _factor(name: str, id_: str, given: str, wanted: str) -> float:
    if given in ("", text(wanted)):
        return 1.0
    try:
        return convert(1.0, given, wanted)
    except NotFound:
        raise InputError(
            f"{name}: {id_} is given in {given!r}. Write all values in {text(wanted)}."
        ) from None


def _scaled(row: Row, factor: float) -> Row:
    return Row(
        dog=row.dog,
        operator=row.operator,
        day=row.day,
        reading=row.reading,
        beat=row.beat,
        value=row.value * factor,
        line=row.line,
    )


def _require_possible(name: str, id_: str, row: Row) -> None:
    entry = quantity(id_)
    if not entry.low <= row.value <= entry.high:
        raise InputError(
            f"{name}, line {row.line}: {id_} = {row.value:g} {text(entry.unit)}; a dog or cat "
            f"has {entry.low:g} to {entry.high:g}. Is it in another unit than the rest?"
        )


def _require_one_unit(name: str, made: RepeatedTable) -> None:
    for dog in made.dogs:
        own = sorted((row for row in made.rows if row.dog == dog), key=lambda row: row.value)
        if own[-1].value > WIDEST * own[0].value:
            raise InputError(
                f"{name}: {made.quantity} of dog {dog} goes from {own[0].value:g} (line "
                f"{own[0].line}) to {own[-1].value:g} (line {own[-1].line}). Are units mixed?"
            )


def _require_repeats(name: str, made: RepeatedTable) -> None:
    if len(made.dogs) < FEWEST_DOGS:
        raise InputError(
            f"{name}: {made.quantity} comes from one dog only; what differs between repeats "
            "and between dogs cannot be told apart. Measure at least 10 dogs three times each."
        )
    seen: dict[tuple[str | None, ...], int] = {}
    for row in made.rows:
        key = (row.dog, row.operator, row.day, row.reading, row.beat)
        if key in seen:
            raise InputError(
                f"{name}, line {row.line}: the same dog, operator, day and reading as line "
                f"{seen[key]}. Number the readings (or beats) 1, 2, 3."
            )
        seen[key] = row.line
    if len(made.rows) == len(made.dogs):
        raise InputError(
            f"{name}: {made.quantity} was measured once in every dog. Repeat it at least twice."
        )
