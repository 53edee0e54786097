"""`study.json` against the contract of ``tableside.study/1`` (docs/study-json.md)."""

import json
from dataclasses import replace
from math import nan
from pathlib import Path

import jsonschema
import pytest

from tableside.model import Reading
from tableside.report.study_json import study_json

SCHEMA = json.loads((Path(__file__).parent / "study.schema.json").read_text(encoding="utf-8"))


@pytest.fixture
def document(reading: Reading) -> dict:
    return json.loads(study_json(reading))


def by(items: list[dict], key: str, value: str) -> dict:
    return next(item for item in items if item[key] == value)


def test_the_document_obeys_the_schema(document: dict) -> None:
    jsonschema.validate(document, SCHEMA, cls=jsonschema.Draft202012Validator)


def test_an_empty_reading_obeys_the_schema(empty_reading: Reading) -> None:
    document = json.loads(study_json(empty_reading))
    jsonschema.validate(document, SCHEMA, cls=jsonschema.Draft202012Validator)
    assert document["measurements"] == []
    assert document["rejected"] == [{"file": "x.dcm", "reason": "the file ends too early"}]


@pytest.mark.parametrize(
    ("path", "wrong"),
    [
        (("measurements", 0, "value"), None),
        (("measurements", 0, "method"), "guess"),
        (("checks", 0, "verdict"), "maybe"),
        (("protocol", 0, "state"), "perhaps"),
        (("schema",), "tableside.study/2"),
    ],
)
def test_the_schema_refuses_what_the_contract_forbids(
    document: dict, path: tuple, wrong: object
) -> None:
    place = document
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = wrong
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document, SCHEMA, cls=jsonschema.Draft202012Validator)


def test_values_are_those_of_the_record(document: dict) -> None:
    lvidd = by(document["measurements"], "quantity", "LVIDd")
    assert lvidd["value"] == pytest.approx((4.62 + 4.55 + 4.58) / 3, abs=5e-6)
    half = (lvidd["interval90"][1] - lvidd["interval90"][0]) / 2
    assert half == pytest.approx(1.6449 * lvidd["sd"], rel=1e-4)  # normal distribution, 90 %
    assert lvidd["sd_repeat"] > lvidd["sd"]
    assert [beat["used"] for beat in lvidd["beats"]] == [True, True, True, False]
    assert lvidd["beats"][3]["reason"] == "premature beat"


def test_units_are_written_for_people(document: dict) -> None:
    units = {one["quantity"]: one["unit"] for one in document["measurements"]}
    assert units["HR"] == "beats/min" and units["MR_Vmax"] == "m/s"
    assert by(document["indices"], "name", "LVIDDN")["unit"] == "cm/kg^0.294"
    assert by(document["indices"], "name", "TR_PG")["unit"] == "mmHg"


def test_a_second_source_stands_beside_the_first(document: dict) -> None:
    lviddn = by(document["indices"], "name", "LVIDDN")
    assert lviddn["reference"]["source"] == "cornell2004"
    assert [one["source"] for one in lviddn["references"]] == [
        "cornell2004",
        "rishniwbrown2022",
    ]
    assert "low" not in lviddn["references"][1] and "z" not in lviddn["references"][1]


def test_regions_carry_the_scales_that_they_have(document: dict) -> None:
    mmode = by(document["images"], "file", "I0003.dcm")["regions"][0]
    assert mmode["cm_per_row"] == 0.02 and mmode["s_per_column"] == 0.004
    assert "m_s_per_row" not in mmode and "baseline_row" not in mmode
    spectrum = by(document["images"], "file", "I0007.dcm")["regions"][0]
    assert spectrum["m_s_per_row"] == 0.018 and spectrum["baseline_row"] == 150.0
    assert spectrum["wave"] == "continuous"


def test_what_is_not_known_is_absent(document: dict) -> None:
    assert "probability_unusable" not in by(document["checks"], "id", "stroke-volume-two-ways")
    assert "gain" not in by(document["advice"], "rank", 2)
    assert "ascites" not in document["visit"]


def test_a_value_that_is_not_a_number_is_left_out(reading: Reading) -> None:
    broken = replace(reading.exam.measurements[0], value=nan)
    exam = replace(reading.exam, measurements=(broken,))
    assert json.loads(study_json(replace(reading, exam=exam)))["measurements"] == []


def test_the_same_reading_gives_the_same_text(reading: Reading) -> None:
    assert study_json(reading) == study_json(reading)


def test_points_stay_on_one_line(reading: Reading) -> None:
    assert "[130, 200]".replace("130", "130.0").replace("200", "200.0") in study_json(reading)
