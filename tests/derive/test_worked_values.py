"""Every formula gives the values that publications print for it."""

import tomllib
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tableside.derive.catalogue import FORMULAS, WITHOUT_MEASUREMENT
from tableside.model import citations

WORKED = Path(__file__).parents[1] / "worked"
TOPICS = (
    "allometry",
    "body",
    "chambers",
    "doppler",
    "flow",
    "leak",
    "pressures",
    "ratios",
    "timing",
    "volumes",
)
CASES: list[dict[str, Any]] = [
    case
    for topic in TOPICS
    for case in tomllib.loads((WORKED / f"{topic}.toml").read_text(encoding="utf-8"))["case"]
]
FUNCTIONS: dict[str, Callable[..., float]] = {
    function.__name__: function
    for function in (*(formula.function for formula in FORMULAS), *WITHOUT_MEASUREMENT)
}


def half_last_digit(printed: str) -> float:
    exponent = Decimal(printed).as_tuple().exponent
    assert isinstance(exponent, int)
    return 0.5 * 10.0**exponent


def name_of(case: dict[str, Any]) -> str:
    return f"{case['formula']}={case['printed']}"


@pytest.mark.parametrize("case", CASES, ids=name_of)
def test_formula_gives_the_printed_value(case: dict[str, Any]) -> None:
    got = FUNCTIONS[case["formula"]](**case["given"])
    expected = case.get("gives", case["printed"])
    assert got == pytest.approx(float(expected), abs=half_last_digit(expected) * 1.000001)


@pytest.mark.parametrize("case", [case for case in CASES if "gives" in case], ids=name_of)
def test_a_known_discrepancy_is_still_one(case: dict[str, Any]) -> None:
    got = FUNCTIONS[case["formula"]](**case["given"])
    assert abs(got - float(case["printed"])) > half_last_digit(case["printed"])


@pytest.mark.parametrize("name", FUNCTIONS)
def test_formula_has_a_worked_value(name: str) -> None:
    assert name in {case["formula"] for case in CASES}


@pytest.mark.parametrize("case", CASES, ids=name_of)
def test_a_worked_value_names_its_publication(case: dict[str, Any]) -> None:
    assert case["source"] in citations()
    assert case["read"] in {"page", "memory", "computed"}
