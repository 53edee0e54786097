"""The codes of the report against pydicom's copy of the context groups of DICOM PS3.16."""

import tomllib
from functools import cache
from importlib.resources import files

import pytest
from pydicom.sr import _cid_dict, _concepts_dict

from tableside.derive.catalogue import FORMULAS
from tableside.model import Index, quantities
from tableside.report.codes import coding_of, private_code, site_titles

CODES = tomllib.loads((files("tableside") / "data" / "codes.toml").read_text(encoding="utf-8"))
# PS3.16 TID 5200 rows 9-18: each section and the group its measurements come from.
SECTION_GROUPS = {
    "left_ventricle": 12200,
    "right_ventricle": 12204,
    "left_atrium": 12205,
    "right_atrium": 12206,
    "aortic_valve": 12211,
    "mitral_valve": 12207,
    "pulmonic_valve": 12209,
    "tricuspid_valve": 12208,
    "aorta": 12212,
    "pulmonary_artery": 12210,
}
# Not in the group of their section, which is extensible: their group is named beside them.
ELSEWHERE = {"TAPSE": 12300, "PEP": 12300, "MAPSE": 12304}
OF_THE_PATIENT = {"BSA": ["LN", "8277-6", "Body Surface Area"]}  # TID 3602 row 7, TID 5201
TABLE_GROUPS = {
    "part": 12236,
    "flow": 12221,
    "method": 12227,
    "mode": 12224,
    "view": 12226,
    "species": 7454,
}


@cache
def group(cid: int) -> dict[tuple[str, str], str]:
    """Return a context group as (scheme, value) to meaning."""
    found = {}
    for scheme, names in _cid_dict.cid_concepts[cid].items():
        for name in names:
            for value, (meaning, groups) in _concepts_dict.concepts[scheme][name].items():
                if cid in groups:
                    found[scheme, value] = meaning
    return found


def coded_entries() -> list[tuple[str, dict]]:
    tables = (CODES["quantity"], CODES["index"], *CODES["on_flow"].values())
    return [(name, entry) for table in tables for name, entry in table.items()]


@pytest.mark.parametrize(
    ("name", "entry"),
    [
        (name, entry)
        for name, entry in coded_entries()
        if "concept" in entry and name not in OF_THE_PATIENT
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_concept_is_in_the_group_of_its_section(name: str, entry: dict) -> None:
    scheme, value, meaning = entry["concept"]
    cid = ELSEWHERE.get(name, SECTION_GROUPS[entry["site"]])
    assert group(cid)[scheme, value] == meaning


@pytest.mark.parametrize("table", TABLE_GROUPS)
def test_other_codes_are_in_their_group(table: str) -> None:
    known = group(TABLE_GROUPS[table])
    for scheme, value, meaning in CODES[table].values():
        assert known[scheme, value] == meaning


@pytest.mark.parametrize("name", OF_THE_PATIENT)
def test_what_describes_the_patient_has_the_code_of_its_row(name: str) -> None:
    assert CODES["index"][name]["concept"] == OF_THE_PATIENT[name]


def test_every_index_has_words() -> None:
    computed = {formula.gives for formula in FORMULAS}
    assert computed <= {name for name, entry in CODES["index"].items() if entry["words"]}


def test_every_quantity_has_a_coding() -> None:
    assert set(CODES["quantity"]) == set(quantities())


def test_the_sections_are_those_of_tid_5200() -> None:
    assert list(site_titles()) == list(SECTION_GROUPS)


def index(name: str, *inputs: str) -> Index:
    return Index(
        name=name, value=1.0, sd=0.1, sd_total=0.1, unit="1", formula="ratio", inputs=inputs,
        sources=(),
    )  # fmt: skip


def test_an_index_without_a_code_goes_to_the_section_of_its_first_input() -> None:
    coding = coding_of(index("TAPSE_n", "TAPSE", "weight"))
    assert coding.site == "right_ventricle"
    assert coding.concept.scheme == "99TABLESIDE"


def test_private_code_values_fit_their_field_and_stay_apart() -> None:
    one = private_code("LVIDDN by an exponent of 0.294", "x" * 80)
    other = private_code("LVIDDN by an exponent of 0.315", "x" * 80)
    # PS3.5 Table 6.2-1: SH is at most 16 characters, LO at most 64.
    assert len(one.value) <= 16 and len(one.meaning) <= 64 and len(one.scheme) <= 16
    assert one.value != other.value
