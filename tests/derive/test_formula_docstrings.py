"""The docstring of a formula has a fixed order (house style), and its ranges are real."""

import inspect
import re
from collections.abc import Callable
from math import nan

import pytest

from tableside.derive.catalogue import FORMULAS, WITHOUT_MEASUREMENT
from tableside.derive.formula import ENDINGS, unit_of
from tableside.derive.inputs import UNITS, is_known, plain
from tableside.errors import OutOfRange
from tableside.model import citations
from tableside.units import is_unit

FUNCTIONS: dict[str, Callable[..., float]] = {
    function.__name__: function
    for function in (*(formula.function for formula in FORMULAS), *WITHOUT_MEASUREMENT)
}
ORDER = (
    ".. math::",
    "Parameters\n---",
    "Returns\n---",
    "Raises\n---",
    "Notes\n---",
    "Sources: [",
)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_formula_is_documented_in_the_fixed_order(name: str) -> None:
    text = inspect.getdoc(FUNCTIONS[name]) or ""
    first = text.partition("\n")[0]
    assert first.endswith(".") and len(first) < 96
    places = [text.find(part) for part in ORDER]
    assert -1 not in places, dict(zip(ORDER, places, strict=True))
    assert places == sorted(places)
    assert text.rstrip().endswith("].")


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_formula_names_every_parameter_with_its_unit(name: str) -> None:
    text = inspect.getdoc(FUNCTIONS[name]) or ""
    parameters = text[text.index("Parameters\n") : text.index("Returns\n")]
    for parameter in inspect.signature(FUNCTIONS[name]).parameters:
        assert re.search(rf"^{parameter} : ", parameters, re.MULTILINE), parameter


@pytest.mark.parametrize("name", FUNCTIONS)
def test_the_sources_of_a_formula_are_in_the_list_of_publications(name: str) -> None:
    text = inspect.getdoc(FUNCTIONS[name]) or ""
    keys = re.findall(r"\[([a-z0-9]+)\]", text[text.index("Sources:") :])
    assert keys
    assert set(keys) <= set(citations())


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_formula_refuses_what_is_not_a_number(name: str) -> None:
    parameters = inspect.signature(FUNCTIONS[name]).parameters
    sequences = {
        one for one, shape in parameters.items() if "Sequence" in str(shape.annotation)
    }
    for broken in parameters:
        given = {one: [1.0] * 20 if one in sequences else 1.0 for one in parameters}
        given[broken] = [nan] * 20 if broken in sequences else nan  # type: ignore[assignment]
        with pytest.raises(OutOfRange):
            FUNCTIONS[name](**given)


@pytest.mark.parametrize("formula", FORMULAS, ids=lambda formula: formula.gives)
def test_a_line_of_the_catalogue_feeds_every_parameter(formula) -> None:  # type: ignore[no-untyped-def]
    assert set(formula.takes) | set(formula.constants) == set(formula.parameters)
    assert is_unit(formula.unit)
    assert set(formula.sources) <= set(citations())
    given = {line.gives for line in FORMULAS}
    for name in formula.takes.values():
        assert is_known(name) or name in given or plain(name) in UNITS, name


def test_the_ending_of_a_name_says_its_unit() -> None:
    assert {unit_of(f"x{ending}") for ending in ENDINGS} == set(ENDINGS.values())
    assert unit_of("early_cm_s") == "cm/s"
    assert unit_of("shortening") == "1"


def test_a_millimetre_taken_for_a_centimetre_is_refused() -> None:
    """42 mm typed as cm at 20 kg would give an LVIDDN of 17.4."""
    with pytest.raises(OutOfRange, match="millimetres"):
        FUNCTIONS["allometric_index"](size_cm=42.0, weight_kg=20.0, exponent=0.294)
