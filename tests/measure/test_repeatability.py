"""Repeatability of a practice: the table it reads, the limits, and the file it writes."""

from math import exp, sqrt
from pathlib import Path

import numpy as np
import pytest

from tableside.errors import InputError
from tableside.measure.own_spreads import own_spreads, spreads_of
from tableside.measure.repeatability import (
    Repeatability,
    Share,
    coefficient_percent,
    ratio_limits,
    repeatability,
)
from tableside.measure.repeated_table import read_repeated
from tableside.model import quantities

HEADER = "dog,operator,day,reading,quantity,value"
GOOD = """\
a,1,1,1,LVIDd,3.5
a,1,2,1,LVIDd,3.6
b,1,1,1,LVIDd,2.5
b,1,2,1,LVIDd,2.4
"""
CVS = {"operator": 0.02, "day": 0.05, "reading": 0.03, "beat": 0.02}


def written(folder: Path, text: str) -> Path:
    path = folder / "repeats.csv"
    path.write_text(text, encoding="utf-8")
    return path


def study(folder: Path, seed: int, *, operators: int = 2, beats: int = 0) -> Repeatability:
    """20 dogs, two days, two readings, with known coefficients of variation."""
    rng = np.random.default_rng(seed)
    lines = [HEADER + (",beat" if beats else "")]
    habits = CVS["operator"] * rng.standard_normal(operators)
    for dog in range(20):
        size = 0.2 * rng.standard_normal()
        for operator in range(operators):
            for day in range(2):
                sweep = size + habits[operator] + CVS["day"] * rng.standard_normal()
                for reading in range(2):
                    read = sweep + CVS["reading"] * rng.standard_normal()
                    start = f"d{dog},{operator},{day},{reading},LVIDd,"
                    if not beats:
                        lines.append(f"{start}{3.5 * exp(read):.4f}")
                    for beat in range(beats):
                        one = 3.5 * exp(read + CVS["beat"] * rng.standard_normal())
                        lines.append(f"{start}{one:.4f},{beat}")
    (table,) = read_repeated(written(folder, "\n".join(lines)))
    return repeatability(table)


def share(cv_percent: float) -> Share:
    return Share(name="x", cv_percent=cv_percent, interval90=(0, 0), interval95=(0, 0))


@pytest.mark.parametrize(
    ("cv", "coefficient"),
    # 2.77 times the coefficient of variation; computed (Bland and Altman 1996: 1.96 sqrt 2)
    [
        (3, "8.3"),
        (4, "11"),
        (5, "14"),
        (6, "17"),
        (8.8, "24"),
        (10, "28"),
        (12.5, "35"),
        (15, "42"),
        (18, "50"),
    ],
)
def test_the_repeatability_coefficient_is_2_77_times_the_spread(
    cv: float, coefficient: str
) -> None:
    half_digit = 0.05 if "." in coefficient else 0.5
    assert coefficient_percent(share(cv)) == pytest.approx(float(coefficient), abs=half_digit)


def test_nineteen_of_twenty_pairs_stay_within_the_ratio_limits() -> None:
    low, high = ratio_limits(share(6.0))
    spread = sqrt(np.log(1 + 0.06**2))
    pairs = np.exp(spread * np.random.default_rng(1).standard_normal((40_000, 2)))
    ratio = pairs[:, 1] / pairs[:, 0]
    assert np.mean((low < ratio) & (ratio < high)) == pytest.approx(0.95, abs=0.005)
    assert low * high == pytest.approx(1.0)


def test_intervals_hold_the_true_spread_about_as_often_as_they_claim(tmp_path: Path) -> None:
    found = [study(tmp_path, seed, operators=1) for seed in range(60)]
    for name in ("day", "reading"):
        parts = [one.part(name) for one in found]
        truth = 100 * CVS[name]
        held90 = sum(p is not None and p.interval90[0] < truth < p.interval90[1] for p in parts)
        held95 = sum(p is not None and p.interval95[0] < truth < p.interval95[1] for p in parts)
        assert held90 >= 48 and held95 >= 52  # of 60; 54 and 57 expected, sd 2.3 and 1.7


def test_a_design_with_operators_and_beats_tells_all_parts_apart(tmp_path: Path) -> None:
    found = study(tmp_path, 4, beats=3)
    names = [part.name for part in found.parts]
    assert names == ["dog", "operator", "dog by operator", "day", "reading", "beat"]
    assert found.holds == {}
    beat = found.part("beat")
    assert beat is not None and beat.cv_percent == pytest.approx(2.0, rel=0.1)
    assert found.between is not None
    assert found.between.cv_percent >= found.within.cv_percent
    assert (found.dogs, found.operators, found.values) == (20, 2, 480)


def test_what_a_design_cannot_tell_apart_is_named_and_not_counted_twice(tmp_path: Path) -> None:
    (table,) = read_repeated(written(tmp_path, f"{HEADER}\n{GOOD}"))
    found = repeatability(table)
    assert [part.name for part in found.parts] == ["dog", "day"]
    assert found.holds == {"day": ("reading",)}
    assert spreads_of(found).keys() == {"acquisition", "reading"}
    assert spreads_of(found)["reading"] == 0.0
    assert found.between is None


def test_the_file_of_a_practice_takes_the_place_of_the_defaults(tmp_path: Path) -> None:
    found = study(tmp_path, 7, beats=3)
    path = tmp_path / "own.toml"
    path.write_text(own_spreads([found], "repeats.csv"), encoding="utf-8")
    own, shipped = quantities(path), quantities()
    day = found.part("day")
    assert day is not None
    assert own["LVIDd"].variation.acquisition == pytest.approx(day.cv_percent / 100, abs=1e-4)
    assert own["LVIDd"].variation != shipped["LVIDd"].variation
    assert own["LA"] == shipped["LA"] and own.keys() == shipped.keys()


def test_a_part_that_was_not_measured_keeps_its_default(tmp_path: Path) -> None:
    found = study(tmp_path, 7)  # no beats
    path = tmp_path / "own.toml"
    path.write_text(own_spreads([found], "repeats.csv"), encoding="utf-8")
    assert quantities(path)["LVIDd"].variation.beat == quantities()["LVIDd"].variation.beat


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[quantity.LVID]\nbeat = 2.0", "no quantity LVID"),
        ("[quantity.LVIDd]\nbeat = 210.0", "beat = 210.0; allowed 0 to 100"),
        ("[quantity.LVIDd]\nbeat = true", "beat = True"),
        ("[quantity.LVIDd]\nbeats = 2.0", "allowed are beat, acquisition, reading"),
        ("[kind.length]\nbeat = 2.0", "allowed is [quantity.NAME] alone"),
        ("beat = = 2", "cannot be read as TOML"),
    ],
)
def test_a_wrong_file_of_spreads_is_refused_in_a_sentence(
    tmp_path: Path, text: str, said: str
) -> None:
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        quantities(path)
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no column dog, operator"),
        (HEADER, "no line below the header"),
        ("dog,day,reading,quantity,value\na,1,1,LVIDd,3", "no column operator"),
        (f"{HEADER}\n{GOOD}a,1,3,1,LVIDd,3.4 cm", "line 6: value is '3.4 cm'"),
        (f"{HEADER}\n{GOOD}a,1,3,1,LVIDd,", "line 6: value is empty"),
        (f"{HEADER}\n{GOOD}a,1,3,1,LVIDd,0", "line 6: LVIDd = 0; it must be above 0"),
        (f"{HEADER}\n{GOOD}a,1,3,1,LVIDd,nan", "must be above 0"),
        (f"{HEADER}\n{GOOD}a,1,3,1,LVIDd,35", "line 6: LVIDd = 35 cm"),
        (f"{HEADER}\n{GOOD}a,1,3,1,LVID,3.5", "line 6: no quantity 'LVID'"),
        (f"{HEADER}\n{GOOD}a,1,2,1,LVIDd,3.5", "the same dog, operator, day and reading"),
        (f"{HEADER}\na,1,1,1,LVIDd,3.5\na,1,2,1,LVIDd,3.6", "one dog only"),
        (f"{HEADER}\na,1,1,1,LVIDd,3.5\nb,1,1,1,LVIDd,3.6", "measured once in every dog"),
        (
            f"{HEADER}\na,1,1,1,EPSS,0.4\na,1,2,1,EPSS,4\nb,1,1,1,EPSS,.5\nb,1,2,1,EPSS,.5",
            "EPSS of dog a goes from 0.4 (line 2) to 4 (line 3). Are units mixed?",
        ),
        (
            f"{HEADER},unit\na,1,1,1,LVIDd,3.5,cm\na,1,2,1,LVIDd,36,mm",
            "LVIDd is given in cm and mm",
        ),
        (f"{HEADER},unit\na,1,1,1,LVIDd,3.5,kg\na,1,2,1,LVIDd,3.6,kg", "given in 'kg'"),
    ],
)
def test_a_table_that_cannot_be_used_is_refused_in_a_sentence(
    tmp_path: Path, text: str, said: str
) -> None:
    with pytest.raises(InputError) as caught:
        read_repeated(written(tmp_path, text))
    assert said in str(caught.value) and "\n" not in str(caught.value)


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "repeats.csv"
    path.write_bytes(b"\xff\xfe\x00\x01")
    with pytest.raises(InputError, match="not a text file"):
        read_repeated(path)
    with pytest.raises(InputError, match="No such file"):
        read_repeated(tmp_path / "none.csv")


def test_semicolons_decimal_commas_and_millimetres_are_understood(tmp_path: Path) -> None:
    lines = GOOD.replace(",", ";").replace(".", ",").splitlines()
    text = "\n".join([HEADER.replace(",", ";"), *lines])
    (plain,) = read_repeated(written(tmp_path, f"{HEADER}\n{GOOD}"))
    (commas,) = read_repeated(written(tmp_path, text))
    assert commas == plain
    in_mm = "\n".join(
        f"{line.rsplit(',', 1)[0]},{float(line.rsplit(',', 1)[1]) * 10:g},mm"
        for line in GOOD.splitlines()
    )
    (millimetres,) = read_repeated(written(tmp_path, f"{HEADER},unit\n{in_mm}"))
    assert [row.value for row in millimetres.rows] == pytest.approx(
        [row.value for row in plain.rows]
    )
