"""Units, against the UCUM table of codes."""

import pytest

from tableside.errors import NotFound
from tableside.units import convert, is_unit, text


@pytest.mark.parametrize(
    ("value", "given", "wanted", "expected"),
    [
        (10.0, "mm", "cm", 1.0),  # SI prefixes
        (3.4, "m/s", "cm/s", 340.0),
        (0.25, "s", "ms", 250.0),
        (60.0, "mL/s", "L/min", 3.6),  # 60 mL/s is 3.6 L/min by definition of the minute
        (35.0, "%", "1", 0.35),
        (120.0, "mm[Hg]", "mm[Hg]", 120.0),
    ],
)
def test_units_of_one_dimension_convert(
    value: float, given: str, wanted: str, expected: float
) -> None:
    assert convert(value, given, wanted) == pytest.approx(expected)


def test_units_of_two_dimensions_do_not_convert() -> None:
    with pytest.raises(NotFound, match="cm is a length and s a time"):
        convert(1.0, "cm", "s")


def test_an_unknown_unit_names_the_known_ones() -> None:
    with pytest.raises(NotFound, match=r"no unit 'inch'; there are .*cm"):
        convert(1.0, "inch", "cm")


def test_annotations_read_without_their_braces() -> None:
    assert text("{cm/kg^0.294}") == "cm/kg^0.294"
    assert text("mm[Hg]") == "mmHg"
    assert not is_unit("{}")
