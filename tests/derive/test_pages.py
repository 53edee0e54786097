"""The pages on formulas and reference values say what the code and the data say."""

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

DOCS = Path(__file__).parents[2] / "docs"


def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("docs_tables", DOCS / "tables.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("part", ["indices", "formulas", "limits", "citations"])
def test_a_page_is_what_the_script_writes(part: str) -> None:
    tables = script()
    name, make = tables.PARTS[part]
    page = (DOCS / name).read_text(encoding="utf-8")
    assert tables.filled(page, part, make()) == page, "run: python docs/tables.py"


def test_the_part_names_are_all_on_a_page() -> None:
    for part, (name, make) in script().PARTS.items():
        page = (DOCS / name).read_text(encoding="utf-8")
        assert f"<!-- table: {part} -->" in page
        assert len(make()) > 1000
