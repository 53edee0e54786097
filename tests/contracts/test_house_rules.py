"""The rules of CONTRIBUTING.md, held by tests: size, documentation, sources, layers."""

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tableside.model import quantities

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "tableside"
MODULES = sorted(SOURCE.rglob("*.py"))
DATA_FILES = sorted((SOURCE / "data").rglob("*.toml"))
REFERENCES = SOURCE / "data" / "references.toml"

MOST_LINES = 400
MOST_LINES_OF_A_FUNCTION = 40
VAGUE_NAMES = {"utils", "util", "helpers", "helper", "manager", "base", "common", "misc"}

# command-line contract, "Quantities, in the trade's abbreviations"
CONTRACT = {
    "cm": "IVSd IVSs LVIDd LVIDs LVPWd LVPWs EPSS Ao LA LAD LVOTd AoAnn PAd TAPSE MAPSE LVLd "
    "LVLs AV_VTI PV_VTI MR_VTI",
    "m/s": "E A MR_Vmax TR_Vmax PR_Vmax PR_Vend AR_Vmax AV_Vmax PV_Vmax E' A' S'",
    "ms": "DT IVRT ET PEP AT AR_PHT MR_dt",
    "mm[Hg]": "AV_MG PV_MG",
    "cm2": "LVAd LVAs LAA",
    "mL": "EDV ESV LAVmax",
    "{beats}/min": "HR",
}

# Where a rule comes from when no publication stands behind it; said as such to the reader
NOT_PUBLISHED = {"common-practice", "design", "incompressible-muscle"}

Function = ast.FunctionDef | ast.AsyncFunctionDef


def name_of(path: Path) -> str:
    return str(path.relative_to(SOURCE))


def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def functions(path: Path) -> Iterator[Function]:
    for node in ast.walk(parsed(path)):
        if isinstance(node, Function):
            yield node


def lines_of_code(function: Function) -> int:
    """Lines of a function without its docstring: a long explanation is not a long function."""
    assert function.end_lineno is not None
    lines = function.end_lineno - function.lineno + 1
    first = function.body[0]
    if ast.get_docstring(function) is not None and first.end_lineno is not None:
        lines -= first.end_lineno - first.lineno + 1
    return lines


def silent_names(path: Path) -> Iterator[str]:
    yield from undocumented(parsed(path))


def undocumented(node: ast.Module | ast.ClassDef, prefix: str = "") -> Iterator[str]:
    """Yield the public classes, functions and methods that have no docstring."""
    for child in node.body:
        if not isinstance(child, Function | ast.ClassDef) or child.name.startswith("_"):
            continue
        if ast.get_docstring(child) is None:
            yield prefix + child.name
        if isinstance(child, ast.ClassDef):
            yield from undocumented(child, f"{prefix}{child.name}.")


def test_modules_are_small() -> None:
    lengths = {name_of(path): len(path.read_text("utf-8").splitlines()) for path in MODULES}
    assert {name: n for name, n in lengths.items() if n > MOST_LINES} == {}


def test_functions_are_short() -> None:
    lengths = {
        f"{name_of(path)}: {one.name}": lines_of_code(one)
        for path in MODULES
        for one in functions(path)
    }
    assert {name: n for name, n in lengths.items() if n > MOST_LINES_OF_A_FUNCTION} == {}


def test_modules_are_named_for_what_they_hold() -> None:
    assert [name_of(path) for path in MODULES if path.stem in VAGUE_NAMES] == []


def test_modules_say_what_they_are() -> None:
    silent = [name_of(path) for path in MODULES if ast.get_docstring(parsed(path)) is None]
    assert silent == []


def test_what_is_public_is_documented() -> None:
    silent = [f"{name_of(path)}: {name}" for path in MODULES for name in silent_names(path)]
    assert silent == []


def test_the_catalogue_holds_the_quantities_of_the_contract_in_its_units() -> None:
    wanted = {id_: unit for unit, ids in CONTRACT.items() for id_ in ids.split()}
    assert {id_: entry.unit for id_, entry in quantities().items()} == wanted


def keys_named(value: Any, names: set[str]) -> Iterator[str]:
    """Yield the citation keys under ``names`` anywhere in a data file."""
    if isinstance(value, list):
        for one in value:
            yield from keys_named(one, names)
    if not isinstance(value, dict):
        return
    for name, inner in value.items():
        if name in names and isinstance(inner, str | list):
            yield from [inner] if isinstance(inner, str) else inner
        else:
            yield from keys_named(inner, names)


def cited_in_code(path: Path) -> Iterator[str]:
    """Yield keys of ``sources=(...)`` arguments, and of ``Sources: [key]`` in docstrings."""
    text = path.read_text(encoding="utf-8")
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.keyword) and isinstance(node.value, ast.Tuple):
            listed = node.value.elts if node.arg == "sources" else []
            yield from (
                one.value
                for one in listed
                if isinstance(one, ast.Constant) and isinstance(one.value, str)
            )
    for sentence in re.findall(r"Sources: (\[.+?)(?:\n\s*\n|\"\"\")", text, flags=re.DOTALL):
        yield from re.findall(r"\[([a-z][\w-]*)\]", sentence)


@pytest.fixture(scope="module")
def references() -> set[str]:
    return set(tomllib.loads(REFERENCES.read_text(encoding="utf-8")))


def test_every_source_of_a_data_file_is_in_the_list_of_publications(
    references: set[str],
) -> None:
    cited = {
        (key, name_of(path))
        for path in DATA_FILES
        if path != REFERENCES
        for key in keys_named(tomllib.loads(path.read_text("utf-8")), {"source", "sources"})
    }
    assert "thomas1993" in {key for key, _ in cited}
    assert sorted(one for one in cited if one[0] not in references) == []


def test_every_source_of_the_code_is_in_the_list_of_publications(references: set[str]) -> None:
    cited = {(key, name_of(path)) for path in MODULES for key in cited_in_code(path)}
    assert "lang2015" in {key for key, _ in cited}
    unknown = [one for one in cited if one[0] not in references | NOT_PUBLISHED]
    assert sorted(unknown) == []


def test_the_layers_hold() -> None:
    program = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run(
        [program, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout


def tracked_texts() -> Iterator[tuple[str, str]]:
    done = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        pytest.skip("needs the repository, not an unpacked archive of it")
    for name in filter(None, done.stdout.split("\0")):
        path = ROOT / name
        if path.is_file():
            content = path.read_bytes()
            if b"\0" not in content[:8000]:
                yield name, content.decode("utf-8")


# A path that only one machine has. Split, so that this file does not find itself.
OF_ONE_MACHINE = re.compile(
    r"(?<![\w.$}*-])/(?:" + "|".join(["home", "Users", "root", "work", "tmp"]) + r")/\w"
    r"|\b[A-Z]:\\\\?Users"
)


def test_no_file_names_a_path_of_one_machine() -> None:
    found = [
        f"{name}: {match.group()}"
        for name, text in tracked_texts()
        for match in OF_ONE_MACHINE.finditer(text)
    ]
    assert found == []


def test_the_path_rule_sees_a_path_and_not_a_word_with_a_slash() -> None:
    assert OF_ONE_MACHINE.search("open('/" + "home/someone/a.dcm')")
    assert not OF_ONE_MACHINE.search("LVIDd/work, $HOME/work/x, docs/home/x")


def test_no_lock_file_is_tracked() -> None:
    # A lock file names the registry it was made with; lower bounds and exclude-newer stand in
    assert "uv.lock" not in {name for name, _ in tracked_texts()}
