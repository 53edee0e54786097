"""Which indices an examination gets, from which numbers, and what is said with them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tableside.derive import indices
from tableside.derive.catalogue import FORMULAS
from tableside.model import Exam, Index, Mode, Patient, Species, Visit

from .exams import DOG_10_KG, exam_of, image_of, measured


def by_name(exam: Exam) -> dict[str, Index]:
    return {one.name: one for one in indices(exam)}


def test_an_empty_examination_has_no_index_but_the_body_surface() -> None:
    assert [one.name for one in indices(exam_of())] == ["BSA"]
    assert indices(exam_of(patient=Patient())) == ()


def test_names_are_given_once() -> None:
    found = indices(
        exam_of(measured("LVIDd", 3.4), measured("LVIDs", 2.1), measured("EDV", 40))
    )
    names = [one.name for one in found]
    assert len(names) == len(set(names))
    assert set(names) <= {formula.gives for formula in FORMULAS}


def test_systole_larger_than_diastole_takes_away_only_what_it_spoils() -> None:
    found = by_name(
        exam_of(measured("LVIDd", 2.1), measured("LVIDs", 3.4), measured("EPSS", 0.4))
    )
    assert not {"FS", "EF_Teichholz", "Vcf"} & set(found)
    assert {"LVIDDN", "LVIDSN", "EDV_Teichholz", "EPSS:Aow"} <= set(found)


def test_a_weight_in_grams_takes_away_only_what_leans_on_weight() -> None:
    heavy = Patient(species=Species.DOG, weight_kg=10_000.0)
    found = by_name(exam_of(measured("LVIDd", 3.4), measured("LVIDs", 2.1), patient=heavy))
    assert set(found) == {"FS", "EDV_Teichholz", "ESV_Teichholz", "EF_Teichholz"}


def test_exponents_of_dogs_are_not_used_on_cats() -> None:
    cat = Patient(species=Species.CAT, weight_kg=4.0)
    found = by_name(exam_of(measured("LVIDd", 1.5), measured("LVIDs", 0.8), patient=cat))
    assert "LVIDDN" not in found
    assert found["BSA"].value == pytest.approx(0.252, abs=0.0005)  # the worked value of 4 kg


def test_an_index_names_its_measurements_and_its_formula() -> None:
    found = by_name(exam_of(measured("LVIDd", 3.4), measured("LVIDs", 2.1)))
    assert found["EF_Teichholz"].inputs == ("LVIDd", "LVIDs")
    assert found["LVIDDN"].inputs == ("LVIDd", "weight")
    assert found["LVIDDN"].formula == "allometric_index"
    assert found["LVIDDN"].sources == ("cornell2004",)
    assert found["EF_Teichholz"].sources == ("lang2015", "teichholz1976")
    assert found["EDVI"].sources == ("serres2008", "teichholz1976", "price1998")
    assert found["LVIDDN"].unit == "{cm/kg^0.294}"


def test_both_exponents_are_given() -> None:
    found = by_name(exam_of(measured("LVIDd", 3.35)))
    assert found["LVIDDN"].value == pytest.approx(1.702, abs=0.002)
    assert found["LVIDDN_0.33"].value == pytest.approx(3.35 / 10**0.33)


def test_the_volume_index_takes_the_best_method_and_says_which() -> None:
    lines = measured("LVIDd", 3.4), measured("LVAd", 12.0), measured("LVLd", 5.0)
    assert "Teichholz" in by_name(exam_of(lines[0]))["EDVI"].assumptions[0]
    assert "area and length" in by_name(exam_of(*lines))["EDVI"].assumptions[0]
    traced = by_name(exam_of(*lines, measured("EDV", 25.0)))["EDVI"]
    assert traced.inputs == ("EDV", "weight")
    assert "discs" in traced.assumptions[0]


def test_m_mode_and_two_dimensional_atria_are_kept_apart() -> None:
    mode = {"detail": "m-mode", "file": "M1"}
    found = by_name(
        exam_of(
            measured("LA", 2.4),
            measured("Ao", 1.5),
            measured("LA", 2.0, **mode),
            measured("Ao", 1.6, **mode),
        )
    )
    assert found["LA:Ao"].value == pytest.approx(1.6)
    assert found["LA:Ao_m-mode"].value == pytest.approx(1.25)


def test_an_m_mode_aorta_does_not_stand_in_for_the_short_axis() -> None:
    found = by_name(exam_of(measured("LA", 2.4), measured("Ao", 1.6, detail="m-mode")))
    assert not {"LA:Ao", "LA:Ao_m-mode"} & set(found)


def test_systole_and_diastole_come_from_one_image_where_they_can() -> None:
    by_hand = {"method": "caliper", "file": "I9"}
    found = by_name(
        exam_of(
            measured("LVIDd", 3.4), measured("LVIDs", 2.1), measured("LVIDd", 3.9, **by_hand)
        )
    )
    assert found["FS"].value == pytest.approx(100 * (3.4 - 2.1) / 3.4)
    assert found["LVIDDN"].value == pytest.approx(3.9 / 10**0.294)


def test_outflow_times_of_different_valves_are_not_mixed() -> None:
    times = measured("AT", 50.0, file="P"), measured("ET", 180.0, file="A")
    images = (
        image_of("P", flow="pulmonic outflow"),
        image_of("A", flow="aortic outflow"),
    )
    found = by_name(exam_of(*times, measured("PEP", 60.0, file="A"), images=images))
    assert "AT:ET" not in found
    assert found["PEP:ET"].value == pytest.approx(60 / 180)


def test_an_unlabelled_flow_is_told_by_its_company_and_said() -> None:
    found = by_name(exam_of(measured("AT", 54.0), measured("ET", 180.0)))
    assert found["AT:ET"].value == pytest.approx(0.3)
    assert any("not labelled" in text for text in found["AT:ET"].assumptions)
    assert "Vcf" not in found
    assert "LVETI" not in by_name(exam_of(measured("ET", 180.0), measured("HR", 100.0)))


def test_long_axis_ratios_need_a_long_axis_diameter() -> None:
    sizes = measured("LAD", 3.0), measured("AoAnn", 1.5), measured("LVIDd", 3.4)
    assert "LVIDd:AoAnn" not in by_name(exam_of(*sizes))
    view = "right parasternal long axis, left ventricular outflow"
    image = image_of("I1", mode=Mode.TWO_D, view=view)
    found = by_name(exam_of(*sizes, images=(image,)))
    assert found["LAD:AoAnn"].value == pytest.approx(2.0)
    assert found["LVIDd:AoAnn"].value == pytest.approx(3.4 / 1.5)


@pytest.mark.parametrize(("ascites", "atrium"), [(None, 5.0), (False, 5.0), (True, 15.0)])
def test_right_atrial_pressure_is_assumed_and_said(ascites: bool | None, atrium: float) -> None:
    """5 normal, 15 in right-sided failure: csaim, textbook table of right atrial pressures."""
    exam = exam_of(measured("TR_Vmax", 4.0), visit=Visit(ascites=ascites))
    found = by_name(exam)["RVSP"]
    assert found.value == pytest.approx(64.0 + atrium)
    assert any(f"taken as {atrium:g} mmHg" in text for text in found.assumptions)
    assert found.sd_total > found.sd


def test_stroke_volume_falls_back_on_the_annulus_and_says_so() -> None:
    found = by_name(exam_of(measured("AoAnn", 1.8), measured("AV_VTI", 14.0)))["SV"]
    assert found.value == pytest.approx(
        35.63, abs=0.005
    )  # the worked value of 1.8 cm and 14 cm
    assert found.assumptions[0] == "diameter of the aortic annulus"


def test_a_jet_that_may_be_faster_gives_a_pressure_that_may_be_higher() -> None:
    found = by_name(exam_of(measured("TR_Vmax", 3.0, bound="lower")))
    assert found["TR_PG"].bound == "lower"
    assert found["RVSP"].bound == "lower"


def test_a_bound_that_turns_round_is_dropped_and_said() -> None:
    cuff = Visit(systolic_pressure_mmHg=140.0, systolic_pressure_readings=5)
    found = by_name(exam_of(measured("MR_Vmax", 4.5, bound="lower"), visit=cuff))["LAP_MR"]
    assert found.bound is None
    assert "MR_Vmax can only be higher, so this may be lower than shown" in found.assumptions


def test_one_cuff_reading_leaves_more_doubt_than_five() -> None:
    """Cuff pressures repeat within 25 to 39 mmHg, about two SD: wernick2012."""

    def doubt(readings: int) -> float:
        visit = Visit(systolic_pressure_mmHg=140.0, systolic_pressure_readings=readings)
        return by_name(exam_of(measured("MR_Vmax", 5.0), visit=visit))["LAP_MR"].sd_total

    assert 25 / 2 < doubt(5) < doubt(1) < 39 / 1.5


def test_the_rise_of_pressure_appears_with_its_time() -> None:
    found = by_name(exam_of(measured("MR_dt", 25.0)))
    assert found["dP/dt"].value == pytest.approx(1280.0)  # 32 mmHg in 25 ms


def test_nothing_depends_on_the_order_of_measurements() -> None:
    some = [
        measured("LVIDd", 3.4),
        measured("LVIDs", 2.1),
        measured("LA", 2.4),
        measured("Ao", 1.5),
    ]
    assert indices(exam_of(*some)) == indices(exam_of(*some[::-1]))


@given(st.floats(0.5, 12.0), st.floats(0.1, 11.0), st.floats(0.4, 119.0))
def test_no_pair_of_diameters_gives_a_negative_or_endless_number(
    d_cm: float, s_cm: float, weight_kg: float
) -> None:
    patient = Patient(species=DOG_10_KG.species, weight_kg=weight_kg)
    for one in indices(
        exam_of(measured("LVIDd", d_cm), measured("LVIDs", s_cm), patient=patient)
    ):
        assert 0 <= one.value < 1e5
        assert 0 <= one.sd <= one.sd_total < 1e5
