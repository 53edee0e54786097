"""Any subset, any order, any nonsense: an answer, always the same, and no warning."""

import random
from dataclasses import replace
from math import isfinite, nan

import numpy as np
import pytest

from credibility.numbers_by_hand import exam, measured
from tableside.credibility.exam_model import FitOptions, fault_checks, fit
from tableside.credibility.exam_model.calibration import calibrate
from tableside.credibility.exam_model.observations import KINDS
from tableside.credibility.exam_model.simulate import WORLDS
from tableside.errors import NotFound
from tableside.model import Exam, Species, Spread, quantities

HEART = {"LVIDd": 3.0, "LVIDs": 1.85, "IVSd": 0.75, "LVPWd": 0.78, "Ao": 1.7, "LA": 2.3}


def assert_sound(one: Exam) -> None:
    found = fit(one)
    assert found.weights.sum() == pytest.approx(1.0)
    for values in found.draws.values():
        assert values.shape == found.weights.shape
        assert np.isfinite(values).all()
    assert all(0 <= fault.unusable <= 1 for fault in found.faults.values())
    assert all(check.message for check in fault_checks(found, one))
    assert (found.of("LVIDs") < found.of("LVIDd")).all()
    assert ((found.of("RF") >= 0) & (found.of("RF") <= 1)).all()
    assert (found.of("PADP") < found.of("PASP")).all()


def test_the_same_exam_gives_the_same_belief() -> None:
    one = exam({**HEART, "MR_Vmax": 4.5}, systolic_pressure_mmHg=145.0)
    first, second = fit(one), fit(one)
    assert all((first.of(name) == second.of(name)).all() for name in first.draws)
    assert (first.weights == second.weights).all()


def test_the_order_of_the_readings_does_not_matter() -> None:
    one = exam({**HEART, "MR_Vmax": 5.4}, systolic_pressure_mmHg=145.0)
    mixed = list(one.measurements)
    random.Random(3).shuffle(mixed)
    first, second = fit(one), fit(replace(one, measurements=tuple(mixed)))
    for name in ("LVIDd", "SBP", "LA:Ao", "RF"):
        assert first.mean(name) == pytest.approx(second.mean(name), rel=1e-6)


@pytest.mark.parametrize("quantity", sorted(quantities()))
def test_every_quantity_of_the_contract_can_stand_alone(quantity: str) -> None:
    entry = quantities()[quantity]
    value = (max(entry.low, 0.02) * entry.high) ** 0.5
    assert_sound(exam({quantity: value}))


def test_all_but_two_quantities_carry_information() -> None:
    # the half-time of an aortic leak hangs on the leak, the rise of a mitral jet on the force
    # of the muscle: the model holds neither
    assert set(quantities()) - set(KINDS) == {"AR_PHT", "MR_dt"}


@pytest.mark.parametrize("weight_kg", [0.4, 2.0, 60.0, 120.0, None, -3.0, nan])
def test_any_weight_gives_an_answer(weight_kg: float | None) -> None:
    assert_sound(exam(patient={"weight_kg": weight_kg}))
    assert_sound(exam(HEART, patient={"weight_kg": weight_kg}))


@pytest.mark.parametrize("weight_kg", [0.4, 120.0])
def test_the_smallest_and_the_largest_animal_are_not_taken_for_a_slip(weight_kg: float) -> None:
    found = fit(exam(patient={"weight_kg": weight_kg}))
    assert found.faults["weight"].unusable < 0.35


@pytest.mark.parametrize("sd", [0.0, 1e-12, 1e6, nan, -0.1])
def test_any_sd_gives_an_answer(sd: float) -> None:
    odd = replace(measured("LA", 2.3), spread=Spread(trace=sd))
    assert_sound(exam({"LVIDd": 3.0, "Ao": 1.7}, extra=(odd,)))


def test_a_huge_sd_says_nothing() -> None:
    vague = replace(measured("LA", 9.0), spread=Spread(trace=1e6))
    without, with_ = fit(exam({"Ao": 1.7})), fit(exam({"Ao": 1.7}, extra=(vague,)))
    assert with_.mean("LA:Ao") == pytest.approx(without.mean("LA:Ao"), abs=0.05)


@pytest.mark.parametrize("value", [0.0, -1.0, nan])
def test_a_value_that_cannot_be_is_left_out_and_said(value: float) -> None:
    odd = replace(measured("EPSS", 0.3), value=value)
    found = fit(exam({"LVIDd": 3.0}, extra=(odd,)))
    assert "EPSS" not in found.faults
    assert any("EPSS" in note and "left out" in note for note in found.notes)


def test_all_jets_unusable_still_gives_pressures() -> None:
    jets = {"MR_Vmax": 1.2, "TR_Vmax": 0.5, "AV_Vmax": 8.5, "PV_Vmax": 8.5, "AR_Vmax": 0.5}
    one = exam({**HEART, **jets}, systolic_pressure_mmHg=140.0)
    assert_sound(one)
    found = fit(one)
    assert found.faults["MR_Vmax"].unusable > 0.9
    assert isfinite(found.mean("PASP"))


def test_contradictory_pressures_widen_the_belief() -> None:
    jet = {"MR_Vmax": 5.7}
    agree = fit(exam(jet, systolic_pressure_mmHg=135.0, systolic_pressure_readings=5))
    differ = fit(exam(jet, systolic_pressure_mmHg=60.0, systolic_pressure_readings=5))
    assert differ.sd("SBP") > agree.sd("SBP")


@pytest.mark.parametrize("species", [Species.CAT, None])
def test_canine_relations_are_said_and_not_applied(species: Species | None) -> None:
    cat = {"LVIDd": 1.5, "LVIDs": 0.8, "IVSd": 0.5, "LA": 1.4, "Ao": 1.0}
    one = exam(cat, patient={"species": species, "weight_kg": 4.5})
    found = fit(one)
    assert any("not applied" in note for note in found.notes)
    assert "LVIDDN" not in found.draws
    assert_sound(one)


def test_several_jets_of_one_kind_are_all_used_and_the_fastest_leads() -> None:
    tries = tuple(
        measured("MR_Vmax", v, file=f"try{n}.dcm") for n, v in enumerate((3.1, 4.0, 5.6))
    )
    found = fit(exam(HEART, extra=tries, systolic_pressure_mmHg=145.0))
    assert sum(name.startswith("MR_Vmax") for name in found.faults) == 3
    assert found.mean("MR_Vmax") > 5.3


def test_a_wider_atrium_makes_stage_b2_likelier() -> None:
    chance = []
    for la in (2.2, 2.6, 3.0, 3.8):
        found = fit(exam({**HEART, "LVIDd": 3.7, "LA": la}, patient={"weight_kg": 10.0}))
        chance.append(found.joint("LA:Ao", "LVIDDN").at_least({"LA:Ao": 1.6, "LVIDDN": 1.7}))
    assert chance == sorted(chance)
    assert chance[0] < 0.1
    assert chance[-1] > 0.8


def test_the_thinned_joint_record_agrees_with_the_draws() -> None:
    found = fit(exam({**HEART, "LVIDd": 3.6, "LA": 2.8}, patient={"weight_kg": 10.0}))
    exact = found.probability(lambda d: (d["LA:Ao"] >= 1.6) & (d["LVIDDN"] >= 1.7))
    thin = found.joint("LA:Ao", "LVIDDN", size=800)
    assert thin.at_least({"LA:Ao": 1.6, "LVIDDN": 1.7}) == pytest.approx(exact, abs=0.02)
    chance = thin.probability(lambda d: d["LA:Ao"] >= 1.6 and d["LVIDDN"] >= 1.7)
    assert chance == pytest.approx(exact, abs=0.02)
    assert thin.holds("LA:Ao") and not thin.holds("FS")


def test_an_unknown_quantity_is_named_in_the_error() -> None:
    with pytest.raises(NotFound, match="no quantity 'XYZ'"):
        fit(exam(), options=FitOptions(draws=211, rounds=1)).mean("XYZ")


def test_intervals_hold_the_truth_about_nine_times_in_ten() -> None:
    # simulation-based calibration (Talts 2018); the long run is `tableside validate`
    rows = calibrate(WORLDS[0], 30, seed=11).rows
    held = sum(row.coverage * row.simulations for row in rows)
    assert held / sum(row.simulations for row in rows) == pytest.approx(0.9, abs=0.05)
