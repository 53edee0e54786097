"""The constants of the primary set give the textbook's table by weight, misprints apart."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from tableside.reference.laws import Allometric
from tableside.reference.tables import tables

PATH = Path(__file__).parents[1] / "worked" / "limits_by_weight.toml"
PRINTED: dict[str, Any] = tomllib.loads(PATH.read_text(encoding="utf-8"))
MISPRINTS = {
    (row, column, kg): (text, gives) for row, column, kg, text, gives in PRINTED["misprints"]
}
CELLS = [
    (row, column, kg, text)
    for row, columns in PRINTED["row"].items()
    for column, texts in columns.items()
    for kg, text in zip(PRINTED["weight_kg"], texts, strict=True)
]
HALF_DIGIT_CM = 0.0501  # the table is printed to 0.1 cm


def computed(row: str, column: str, weight_kg: float) -> float:
    found = [
        law
        for table in tables()
        if table.source == PRINTED["made_from"] and (law := table.rows.get(row)) is not None
    ]
    law = found[0]
    assert isinstance(law, Allometric)
    limits = law.limits(weight_kg)
    assert limits is not None and law.centre is not None
    mean = law.centre * weight_kg**law.exponent
    end = {"low": limits.low, "mean": mean, "high": limits.high}[column]
    assert end is not None
    return end


def test_the_table_is_whole() -> None:
    assert len(CELLS) == 8 * 3 * 14
    assert set(MISPRINTS) <= {cell[:3] for cell in CELLS}


def test_every_cell_but_the_misprints_is_what_the_constants_give() -> None:
    wrong = {
        (row, column, kg): text
        for row, column, kg, text in CELLS
        if abs(computed(row, column, kg) - float(text)) > HALF_DIGIT_CM
    }
    assert wrong == {cell: text for cell, (text, _) in MISPRINTS.items()}


@pytest.mark.parametrize("cell", MISPRINTS, ids=str)
def test_a_misprint_is_pinned_beside_what_the_constants_give(
    cell: tuple[str, str, int],
) -> None:
    assert computed(*cell) == pytest.approx(float(MISPRINTS[cell][1]), abs=0.0051)


def test_the_worked_row_at_20_kg() -> None:
    """LVIDd at 20 kg: 3.7 (3.1 to 4.5) in the table, 3.69 (3.06 to 4.46) by the constants."""
    got = [computed("LVIDd", column, 20) for column in ("mean", "low", "high")]
    assert got == pytest.approx([3.69, 3.06, 4.46], abs=0.006)
