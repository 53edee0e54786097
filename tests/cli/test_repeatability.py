"""What `tableside repeatability` prints and writes."""

import io
import tomllib
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from tableside.cli.repeatability import estimate
from tableside.errors import InputError


def table(folder: Path, dogs: int) -> Path:
    rng = np.random.default_rng(1)
    lines = ["dog,operator,day,reading,quantity,value"]
    for dog in range(dogs):
        size = 3.0 + 0.1 * dog
        for day in range(3):
            value = size * (1 + 0.05 * rng.standard_normal())
            lines.append(f"d{dog},x,{day},1,LVIDd,{value:.3f}")
    path = folder / "repeats.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def test_it_prints_components_and_writes_the_file(tmp_path: Path) -> None:
    shown = io.StringIO()
    out = tmp_path / "new" / "own.toml"
    estimate(table(tmp_path, 12), out, Console(file=shown, width=120))
    said = shown.getvalue()
    assert "LVIDd: 12 dogs, 1 operator, 36 values" in said
    assert "Repeatability coefficient" in said and "90 % interval" in said
    spreads = tomllib.loads(out.read_text(encoding="utf-8"))["quantity"]["LVIDd"]
    assert 2.5 < spreads["acquisition"] < 9.0
    assert [one.name for one in out.parent.iterdir()] == ["own.toml"]


def test_few_dogs_are_said_to_be_few(tmp_path: Path) -> None:
    shown = io.StringIO()
    estimate(table(tmp_path, 4), None, Console(file=shown, width=120))
    assert "4 dogs are few" in shown.getvalue()


def test_a_bad_table_writes_nothing(tmp_path: Path) -> None:
    out = tmp_path / "own.toml"
    with pytest.raises(InputError, match="one dog only"):
        estimate(table(tmp_path, 1), out)
    assert not out.exists()
