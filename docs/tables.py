"""Write the tables of two pages from the catalogue and the data files.

``python docs/tables.py`` replaces what stands between two marks; prose stays as it is. A test
holds pages and data equal.
"""

import inspect
import re
from collections.abc import Callable
from pathlib import Path

from tableside.derive.catalogue import FORMULAS, WITHOUT_MEASUREMENT
from tableside.derive.formula import Formula
from tableside.model import citations
from tableside.reference.tables import Table, tables
from tableside.units import text

FOLDER = Path(__file__).parent
START, END = "<!-- table: {} -->", "<!-- end -->"


def index_table() -> str:
    """Return every index with its formula, unit, inputs and sources."""
    head = "| Index | Formula | Unit | From | Assumed | Sources |\n|---|---|---|---|---|---|\n"
    return head + "".join(map(_index_row, FORMULAS))


def _index_row(formula: Formula) -> str:
    constants = "".join(f", {name} {value:g}" for name, value in formula.constants.items())
    cells = (
        f"`{formula.gives}`" + (f" ({formula.species})" if formula.species else ""),
        f"[{_words(formula.name)}](#{_words(formula.name).replace(' ', '-')}){constants}",
        text(formula.unit) or "ratio",
        ", ".join(formula.takes.values()),
        "; ".join(formula.assumes),
        ", ".join(formula.sources),
    )
    return f"| {' | '.join(cells)} |\n"


def function_list() -> str:
    """Return each formula once: what it is, as printed, its range, and when it holds."""
    functions = [formula.function for formula in FORMULAS] + list(WITHOUT_MEASUREMENT)
    return "\n".join(_function(one) for one in dict.fromkeys(functions))


def _function(function: Callable[..., float]) -> str:
    documented = inspect.getdoc(function) or ""
    first = documented.partition("\n")[0]
    math = re.search(r"\.\. math:: (.+)", documented)
    assert math is not None
    notes, _, sources = _section(documented, "Notes").rpartition("Sources:")
    return "\n".join(
        (
            f"### {_words(function.__name__)}",
            first,
            "",
            f"$${math.group(1)}$$",
            "",
            f"* Refused: {_flat(_section(documented, 'Raises').partition('OutOfRange')[2])}",
            f"* {_flat(notes)}",
            f"* Sources: {_flat(sources)}",
            "",
        )
    )


def _section(documented: str, name: str) -> str:
    found = re.search(rf"\n{name}\n-+\n(.*?)(?=\n\w+\n---|\Z)", documented, re.DOTALL)
    assert found is not None
    return found.group(1)


def _flat(paragraph: str) -> str:
    return re.sub(r":math:`([^`]+)`", r"$\1$", " ".join(paragraph.split()))


def _words(name: str) -> str:
    return name.replace("_", " ")


def publication_table() -> str:
    """Return every table of limits: for what, from whom, by what, and where it was read."""
    head = (
        "| Publication | Animals | Numbers | How limits are given | Digits read | Trust |\n"
        "|---|---|---|---|---|---|\n"
    )
    return head + "".join(map(_publication_row, tables()))


def _publication_row(table: Table) -> str:
    weights = (
        f", {table.weight_kg[0]:g} to {table.weight_kg[1]:g} kg" if table.weight_kg else ""
    )
    sex = {"F": ", female", "M": ", male"}.get(table.sex or "", "")
    number = f", n = {table.n}" if table.n else ""
    detail = f" ({table.detail})" if table.detail else ""
    read = f"[page]({table.url})" if table.url and table.read == "page" else table.read
    cells = (
        f"{table.source}: {table.locator}",
        f"{table.species}: {table.population}{sex}{number}{weights}",
        ", ".join(f"`{name}`" for name in table.rows) + detail,
        f"{table.kind}, {text(table.unit) or 'ratio'}",
        read,
        table.confidence,
    )
    return f"| {' | '.join(cells)} |\n"


def citation_list() -> str:
    """Return the publications that the tables of limits and the formulas lean on."""
    used = {table.source for table in tables()}
    used |= {source for formula in FORMULAS for source in formula.sources}
    for function in WITHOUT_MEASUREMENT:
        documented = inspect.getdoc(function) or ""
        used |= set(re.findall(r"\[([a-z0-9]+)\]", documented.rpartition("Sources:")[2]))
    lines = (f"* **{key}** {citations()[key].text}" for key in sorted(used))
    return "\n".join(lines) + "\n"


PARTS: dict[str, tuple[str, Callable[[], str]]] = {
    "indices": ("formulas.md", index_table),
    "formulas": ("formulas.md", function_list),
    "limits": ("reference-values.md", publication_table),
    "citations": ("reference-values.md", citation_list),
}


def filled(page: str, part: str, table: str) -> str:
    """Return a page with one of its tables replaced."""
    start = START.format(part)
    before, _, rest = page.partition(start)
    _, _, after = rest.partition(END)
    return f"{before}{start}\n{table}{END}{after}"


if __name__ == "__main__":
    for part, (name, make) in PARTS.items():
        path = FOLDER / name
        page = filled(path.read_text(encoding="utf-8"), part, make())
        path.write_text(page, encoding="utf-8")
