"""The data files: every one reads, and one that breaks its rules is refused."""

from importlib.resources import files

import pytest

from tableside.derive.catalogue import FORMULAS
from tableside.errors import DataError
from tableside.model import citations, quantities
from tableside.reference.tables import Table, read_publication, tables

GOOD = """
source = "cornell2004"
locator = "constants"
species = "dog"
population = "healthy dogs"
read = "page"
confidence = "high"
weight_kg = [2.2, 95]

[[table]]
kind = "allometric"
unit = "cm"
[table.rows]
LVIDd = { low = 1.27, centre = 1.53, high = 1.85, exponent = 0.294 }
"""
UNITS = {formula.gives: formula.unit for formula in FORMULAS}


def broken(old: str, new: str) -> str:
    assert old in GOOD
    return GOOD.replace(old, new)


def test_a_good_file_is_read() -> None:
    (table,) = read_publication("good.toml", GOOD)
    assert table.source == "cornell2004"
    assert table.weight_kg == (2.2, 95)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('read = "page"', 'red = "page"', "unknown keys red"),
        ('read = "page"\n', "", "read are missing"),
        ('read = "page"', 'read = "somewhere"', "allowed page"),
        ('"high"', '"certain"', "allowed high, medium, low"),
        ("[2.2, 95]", "[95, 2.2]", "rising order"),
        ("low = 1.27", "low = 1.60", "rising order"),
        ("high = 1.85", "high = 1.27", "rising order"),
        ("exponent = 0.294", "exponnent = 0.294", "exponnent"),
        ("low = 1.27, centre = 1.53, high = 1.85", "centre = 1.53", "at least one limit"),
        ('"allometric"', '"normal"', "low"),
        ('"cm"', '"cm/kg"', "not in the list of units"),
        ('"cm"', '"m/s"', "m/s is a velocity"),
        ("[[table]]", "[other]", "no \\[\\[table\\]\\]"),
    ],
)
def test_a_broken_file_is_refused_and_says_why(old: str, new: str, said: str) -> None:
    with pytest.raises(DataError, match=said):
        read_publication("broken.toml", broken(old, new))


def test_every_file_of_the_folder_is_read() -> None:
    folder = files("tableside") / "data" / "reference"
    shipped = [path.name for path in folder.iterdir() if path.name.endswith(".toml")]
    assert len(shipped) >= 30
    for name in shipped:
        text = (folder / name).read_text(encoding="utf-8")
        assert len({table.source for table in read_publication(name, text)}) == 1


@pytest.mark.parametrize("table", tables(), ids=lambda table: f"{table.source} {table.kind}")
def test_a_table_is_about_numbers_that_exist(table: Table) -> None:
    assert table.source in citations()
    for name in table.rows:
        assert name in quantities() or UNITS[name] == table.unit


def test_what_was_read_on_a_page_says_where() -> None:
    assert {
        table.source for table in tables() if table.read == "page" and not table.url
    } == set()


def test_thresholds_of_guidelines_are_not_intervals() -> None:
    """LVIDDN 1.7 and LA:Ao 1.6 of keene2019, and the PH bands of reinero2020, are decisions."""
    guidelines = {"keene2019", "reinero2020", "luisfuentes2020", "epic2016", "mine2021"}
    assert not guidelines & {table.source for table in tables()}
