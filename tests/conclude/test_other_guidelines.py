"""Pulmonary hypertension, stenoses, heart muscle, function and congestion."""

import random
from dataclasses import replace
from typing import Any

import pytest

from credibility.numbers_by_hand import exam, index, measured
from tableside.conclude import findings
from tableside.conclude.guideline import guideline, parse, shipped_guidelines
from tableside.conclude.inputs import as_written
from tableside.conclude.pulmonary_hypertension import grade
from tableside.errors import DataError, NotFound
from tableside.model import Check, Exam, Finding, Sex, Species, Verdict, quantities

CAT = {"species": Species.CAT, "weight_kg": 4.5}


def finding(one: Exam, id_: str, checks: tuple[Check, ...] = ()) -> Finding:
    return next(found for found in findings(one, checks) if found.id == id_)


def ids(one: Exam) -> set[str]:
    return {found.id for found in findings(one)}


# worked examples of the ACVIM 2020 table: (jet, sites) -> class [reinero2020]
@pytest.mark.parametrize(
    ("jet_m_s", "sites", "expected"),
    [
        (3.2, 2, "high"), (None, 2, "intermediate"), (3.6, 0, "intermediate"),
        (3.6, 1, "high"), (None, 3, "high"), (3.0, 1, "low"), (None, 0, "low"),
        (3.2, 1, "intermediate"), (3.4, 2, "high"),
    ],
)  # fmt: skip
def test_the_table_of_pulmonary_hypertension(
    jet_m_s: float | None, sites: int, expected: str
) -> None:
    assert grade(guideline("pulmonary_hypertension"), jet_m_s, sites) == expected


def test_a_fast_jet_with_one_site_is_high_whatever_was_not_seen() -> None:
    found = finding(
        exam({"TR_Vmax": 4.3}, {"PA:Ao": 1.3, "AT:ET": 0.22}), "pulmonary-hypertension"
    )
    assert found.statement.startswith("High probability")
    assert found.probability["high"] > 0.95
    assert found.missing == ("ventricles", "right atrium and caudal vena cava")


def test_a_site_not_assessed_is_not_a_site_without_signs() -> None:
    found = finding(
        exam({"TR_Vmax": 3.2}, {"PA:Ao": 0.8, "AT:ET": 0.45}), "pulmonary-hypertension"
    )
    assert found.probability == {}
    assert "depending on sites not looked at" in found.statement
    noted = finding(
        exam(
            {"TR_Vmax": 3.2},
            {"PA:Ao": 0.8, "AT:ET": 0.45},
            signs=("no septal flattening", "no right atrial enlargement"),
        ),
        "pulmonary-hypertension",
    )
    assert noted.missing == () and noted.statement.startswith("Intermediate")


def test_signs_that_a_person_noted_are_counted() -> None:
    found = finding(
        exam({"TR_Vmax": 2.5}, signs=("septal flattening", "right atrial enlargement")),
        "pulmonary-hypertension",
    )
    assert "signs at 2 of 2 sites seen" in found.statement


def test_without_a_jet_nothing_is_graded() -> None:
    found = finding(exam({}, {"PA:Ao": 1.3, "AT:ET": 0.2}), "pulmonary-hypertension")
    assert found.probability == {} and "TR_Vmax" in found.missing
    assert found.statement.startswith("Not graded: no tricuspid jet was recorded.")


def test_behind_an_obstruction_the_jet_is_not_graded() -> None:
    found = finding(
        exam({"TR_Vmax": 4.5}, {"PV_PG": 80, "PA:Ao": 1.2}), "pulmonary-hypertension"
    )
    assert found.probability == {} and "obstruction" in found.statement


# peak gradient: mild < 50, moderate 50-80, severe 80-130, very severe > 130 mmHg [eason2021];
# velocities by 4 v^2: 36 at 3.0, 81 at 4.5, 169 at 6.5 (printed teaching cases)
@pytest.mark.parametrize(
    ("peak_m_s", "label"),
    [(1.4, "normal"), (2.2, "equivocal"), (3.0, "mild"), (4.0, "moderate"),
     (5.0, "severe"), (6.5, "very severe")],
)  # fmt: skip
def test_the_grades_of_subaortic_stenosis(peak_m_s: float, label: str) -> None:
    sharp = (measured("AV_Vmax", peak_m_s, share=0.0),)
    found = finding(exam(extra=sharp), "subaortic-stenosis")
    assert max(found.probability, key=lambda each: found.probability[each]) == label
    assert sum(found.probability.values()) == pytest.approx(1.0)


# normal < 20, mild 20-50, moderate 50-80, severe > 80 mmHg [expertvet]
@pytest.mark.parametrize(
    ("peak_m_s", "label"), [(1.2, "normal"), (3.0, "mild"), (4.0, "moderate"), (5.3, "severe")]
)
def test_the_grades_of_pulmonic_stenosis(peak_m_s: float, label: str) -> None:
    found = finding(exam({"PV_Vmax": peak_m_s}), "pulmonic-stenosis")
    assert max(found.probability, key=lambda each: found.probability[each]) == label


def test_a_boxer_is_told_that_two_schemes_conflict() -> None:
    # 16-40, 40-75, > 75 mmHg in Boxers [boxeras2006]: 46 mmHg is moderate there, mild here
    boxer = finding(exam({"AV_Vmax": 3.4}, patient={"breed": "Boxer"}), "subaortic-stenosis")
    assert any("boxeras2006" in text and "moderate" in text for text in boxer.cautions)
    assert "mild" in boxer.statement


def test_an_incomplete_envelope_gives_at_least() -> None:
    bound = (measured("AV_Vmax", 4.0, bound="lower"),)
    found = finding(exam(extra=bound), "subaortic-stenosis")
    assert "at least 4.0 m/s" in found.statement
    assert any("lower bound" in text for text in found.cautions)


DOBERMAN = {"breed": "Dobermann", "weight_kg": 36.0}


# LVIDd > 48 mm (male), 46 mm (female), LVIDs > 36 mm, ESVI > 55 mL/m2 [wess2017]
@pytest.mark.parametrize(
    ("sex", "lvidd_cm", "label"),
    [
        (Sex.MALE, 5.6, "abnormal"),
        (Sex.MALE_NEUTERED, 4.75, "within limits"),
        (Sex.FEMALE, 5.6, "abnormal"),
    ],
)
def test_the_doberman_screen(sex: Sex, lvidd_cm: float, label: str) -> None:
    sharp = (measured("LVIDd", lvidd_cm, share=0.0), measured("LVIDs", 3.0))
    found = finding(exam(extra=sharp, patient={**DOBERMAN, "sex": sex}), "dcm-screen")
    assert found.source == "wess2017"
    if found.probability:
        assert max(found.probability, key=lambda each: found.probability[each]) == label
    assert any("24-hour ECG" in text for text in found.cautions)


def test_a_screen_with_limits_missing_does_not_clear_a_doberman() -> None:
    found = finding(
        exam({"LVIDd": 4.0, "LVIDs": 2.6}, patient={**DOBERMAN, "sex": Sex.MALE}), "dcm-screen"
    )
    assert found.probability == {} and "ESVI" in found.missing
    assert found.statement.startswith("Within limits as far as measured")


def test_a_limit_by_sex_needs_the_sex() -> None:
    found = finding(exam({"LVIDs": 2.6, "LVIDd": 4.0}, patient=DOBERMAN), "dcm-screen")
    assert "sex" in found.missing


# limit by weight = 40.3 + 0.1749 kg: 46.6 mm at 36 kg, beside the fixed 48 mm [wess2017]
def test_the_limit_by_weight_stands_beside_the_fixed_one() -> None:
    found = finding(exam({"LVIDd": 4.7}, patient={**DOBERMAN, "sex": Sex.MALE}), "dcm-screen")
    assert any("46.6 mm" in text for text in found.cautions)


# LVIDd > 61.2, LVIDs > 41 mm, ESVI > 41 [vollmar1999]; 56.1 and 54.0 mm [stephenson2012]
@pytest.mark.parametrize(
    ("breed", "source", "lvidd_cm"),
    [("Irish Wolfhound", "vollmar1999", 7.6), ("Great Dane", "stephenson2012", 7.0)],
)
def test_the_screens_of_the_giant_breeds(breed: str, source: str, lvidd_cm: float) -> None:
    one = exam(
        {"LVIDd": lvidd_cm}, patient={"breed": breed, "weight_kg": 65.0, "sex": Sex.FEMALE}
    )
    found = finding(one, "dcm-screen")
    assert found.source == source and found.probability["abnormal"] > 0.9
    assert "Abnormal by LVIDd" in found.statement


def test_other_breeds_have_no_screen() -> None:
    assert not {"dcm-screen", "dcm-criteria-2003"} & ids(
        exam({"LVIDd": 6.0}, {"FS": 15}, patient={"breed": "Border Collie"})
    )


# all three features are needed: dilatation, weakness, roundness [dukes2003]
def test_two_of_three_features_are_not_enough() -> None:
    size = {"LVIDd": 5.8, "LVIDs": 4.9}
    male = {**DOBERMAN, "sex": Sex.MALE}
    two = finding(exam(size, {"FS": 12}, patient=male), "dcm-criteria-2003")
    assert two.probability == {} and two.missing == ("left ventricle rounder",)
    three = finding(
        exam(size, {"FS": 12, "sphericity": 1.3}, patient=male), "dcm-criteria-2003"
    )
    assert three.probability["all three"] > 0.9
    long = finding(exam(size, {"FS": 12, "sphericity": 2.1}, patient=male), "dcm-criteria-2003")
    assert long.probability["all three"] < 0.1


# HCM phenotype >= 6 mm, 5 to 6 equivocal [payne2013, luisfuentes2020]
@pytest.mark.parametrize(
    ("wall_cm", "label"),
    [(0.40, "normal walls"), (0.55, "equivocal walls"), (0.75, "hypertrophic phenotype")],
)
def test_the_phenotype_of_a_feline_wall(wall_cm: float, label: str) -> None:
    found = finding(exam({"IVSd": wall_cm, "LVPWd": 0.38}, patient=CAT), "feline-phenotype")
    assert max(found.probability, key=lambda each: found.probability[each]) == label
    assert "thyroid hormone" in found.missing and "systolic pressure" in found.missing
    assert "tage B" not in found.statement


def test_a_large_feline_atrium_gives_a_risk_and_no_stage() -> None:
    found = finding(exam({"LAD": 2.3}, {"LA:Ao": 2.4}, patient=CAT), "feline-left-atrium")
    assert found.probability["moderately or severely enlarged"] > 0.95
    assert set(found.probability) == {
        "normal or mildly enlarged",
        "moderately or severely enlarged",
    }


# FS: dogs 25 to 47 %, cats 35 to 65 %, Great Danes 18 to 36 % [nelsoncouto6, koch1996]
@pytest.mark.parametrize(
    ("fs", "patient", "label"),
    [
        (38, {}, "within the range"),
        (15, {}, "reduced"),
        (24, {"breed": "Great Dane", "weight_kg": 62.0}, "within the range"),
        (24, CAT, "reduced"),
        (50, CAT, "within the range"),
    ],
)
def test_systolic_function_by_species_and_breed(
    fs: float, patient: dict[str, Any], label: str
) -> None:
    found = finding(exam({}, {"FS": fs}, patient=patient), "systolic-function")
    assert max(found.probability, key=lambda each: found.probability[each]) == label


def test_a_leak_hides_weakness_and_the_letter_says_so() -> None:
    found = finding(exam({"MR_Vmax": 5.5}, {"FS": 36}), "systolic-function")
    assert any("hide weakness" in text for text in found.cautions)


# E:A 1 to 2, DT 80 SD 20 ms, IVRT 30 to 60 ms [schober2001flow]
@pytest.mark.parametrize(
    ("sizes", "ratio", "words"),
    [
        ({"DT": 80, "IVRT": 45}, 1.4, "Filling pattern normal."),
        ({"DT": 140, "IVRT": 75}, 0.7, "Slow relaxation."),
        ({"DT": 35, "IVRT": 25}, 2.8, "Restrictive filling."),
        ({"DT": 80, "E'": 0.02}, 1.5, "slow annulus"),
    ],
)
def test_the_filling_pattern(sizes: dict[str, float], ratio: float, words: str) -> None:
    found = finding(exam({"E": 0.8, **sizes}, {"E:A": ratio}), "diastolic-function")
    assert words in found.statement


# healthy large dogs have E:E' 10.9, SD 3.3 [choi2013]: 12 must not speak for congestion
def test_the_annular_ratio_of_a_healthy_dog_supports_nothing() -> None:
    assert "congestion-support" not in ids(exam({}, {"E:E'": 12.0}))


def test_fused_inflow_is_not_classified() -> None:
    found = finding(exam({"E": 0.9, "HR": 190, "DT": 60}), "diastolic-function")
    assert found.probability == {} and "fused" in found.statement


# E:IVRT > 2.5 in mitral disease, > 1.88 in dilated cardiomyopathy [schober2010]
def test_congestion_is_supported_and_never_diagnosed() -> None:
    found = finding(
        exam({"MR_Vmax": 5.5, "E": 1.6}, {"E:IVRT": 4.0, "LA:Ao": 2.3}), "congestion-support"
    )
    assert "support left-sided congestion" in found.statement
    assert found.probability == {} and "radiographs" in found.missing
    doberman = exam({}, {"E:IVRT": 2.2}, patient=DOBERMAN)
    assert "supports" in finding(doberman, "congestion-support").statement
    collie = exam({"MR_Vmax": 5.5}, {"E:IVRT": 1.6})
    assert "does not support" in finding(collie, "congestion-support").statement


STUDY = {
    "LVIDd": 4.2, "LVIDs": 2.6, "IVSd": 0.8, "LVPWd": 0.8, "E": 1.25, "DT": 90, "IVRT": 45,
    "MR_Vmax": 3.2, "TR_Vmax": 3.1, "AV_Vmax": 1.3, "PV_Vmax": 0.9, "HR": 118,
}  # fmt: skip
INDICES = {"LA:Ao": 1.74, "LVIDDN": 1.78, "FS": 38, "E:A": 1.5, "AT:ET": 0.4, "PA:Ao": 0.92}


def test_the_order_of_the_numbers_changes_nothing() -> None:
    whole = exam(STUDY, INDICES, murmur_grade=3)
    sizes, indices = list(whole.measurements), list(whole.indices)
    random.Random(4).shuffle(sizes)
    random.Random(5).shuffle(indices)
    other = replace(whole, measurements=tuple(sizes), indices=tuple(indices))
    assert findings(other) == findings(whole)


@pytest.mark.parametrize("species", [None, *Species])
def test_an_empty_examination_has_no_finding(species: Species | None) -> None:
    assert findings(exam(patient={"species": species, "weight_kg": None})) == ()


def test_without_a_species_no_guideline_is_applied_and_it_is_said() -> None:
    (found,) = findings(exam({"LVIDd": 3.0}, patient={"species": None}))
    assert found.missing == ("species",)


@pytest.mark.parametrize("species", list(Species))
@pytest.mark.parametrize("name", [*quantities(), *INDICES])
def test_one_number_alone_breaks_nothing(name: str, species: Species) -> None:
    entry = quantities().get(name)
    sizes = {} if entry is None else {name: (entry.low * entry.high) ** 0.5 or entry.high / 2}
    indices = {name: INDICES[name]} if entry is None else {}
    for found in findings(exam(sizes, indices, patient={"species": species})):
        assert found.statement.endswith(".") and found.statement[0].isupper()
        assert not found.probability or sum(found.probability.values()) == pytest.approx(1)


def test_words_are_short_and_free_of_doses() -> None:
    whole = exam(STUDY, INDICES, murmur_grade=3, vertebral_heart_score=11, signs=("cough",))
    for found in findings(whole):
        assert len(found.statement) < 240
        assert not any(unit in found.statement.lower() for unit in ("mg/kg", "furosemide"))


def test_a_doubted_jet_is_named_where_it_grades() -> None:
    doubt = Check(
        id="tricuspid-jet-across-windows",
        verdict=Verdict.FAILS,
        about=("TR_Vmax",),
        message=".",
        probability_unusable=0.97,
    )
    found = finding(exam(STUDY, INDICES), "pulmonary-hypertension", (doubt,))
    assert any(text.startswith("TR_Vmax is probably unusable") for text in found.cautions)


def test_every_guideline_names_its_source_and_how_it_was_read() -> None:
    for rule in shipped_guidelines().values():
        assert rule.source and rule.locator and rule.title
        assert rule.read in {"page", "memory", "indirect", "computed"}


@pytest.mark.parametrize(
    "change",
    [
        {"colour": "red"},
        {"read": "rumour"},
        {"limits": {"FS": {"op": "~", "value": 1, "unit": "%", "read": "page"}}},
        {"limits": {"FS": {"op": ">", "value": 1, "unit": "%"}}},
        {"bands": {"x": {"edges": [2, 1], "labels": list("abc"), "unit": "1", "read": "page"}}},
        {"bands": {"x": {"edges": [1, 2], "labels": ["a"], "unit": "1", "read": "page"}}},
        {"points": {"x": {"edges": ["over 3"], "points": [1, 2], "decimals": 0}}},
        {"species": "horse"},
    ],
)
def test_a_broken_guideline_file_is_refused(change: dict[str, Any]) -> None:
    sound = {"source": "keene2019", "locator": "x", "read": "memory", "title": "X"}
    assert parse("sound", sound).id == "sound"
    with pytest.raises(DataError, match="broken"):
        parse("broken", {**sound, **change})


def test_an_unknown_guideline_is_answered_with_the_list() -> None:
    with pytest.raises(NotFound, match="mitral_stage"):
        guideline("no such thing")


@pytest.mark.parametrize(
    ("value", "sd", "text"),
    [(1.72, 0.08, "1.72 ± 0.08"), (38.2, 4.7, "38 ± 5"), (1.74, 0.18, "1.74 ± 0.18"),
     (120, 14, "120 ± 14"), (3.0, 0.0, "3")],
)  # fmt: skip
def test_a_number_is_written_to_the_digit_of_its_doubt(
    value: float, sd: float, text: str
) -> None:
    assert as_written(value, sd) == text


def test_an_index_brings_its_own_inputs() -> None:
    doubt = Check(
        id="weight-unit",
        verdict=Verdict.FAILS,
        about=("weight",),
        message=".",
        probability_unusable=0.8,
    )
    ventricle = index("LVIDDN", 1.9, inputs=("LVIDd", "weight"))
    base = exam({"MR_Vmax": 5.5}, {"LA:Ao": 1.9})
    one = replace(base, indices=(*base.indices, ventricle))
    found = finding(one, "mmvd-stage", (doubt,))
    assert any("weight, on which LVIDDN hangs" in text for text in found.cautions)
