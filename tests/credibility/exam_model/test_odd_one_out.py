"""Which number is the odd one out, and what the list of checks then says."""

from dataclasses import replace
from typing import Any

import pytest

from credibility.numbers_by_hand import exam, measured
from tableside.credibility import checks
from tableside.credibility.exam_model import FitOptions, Posterior, fault_checks, fit, merge
from tableside.model import Check, Exam, Verdict

HEART = {"LVIDd": 3.0, "LVIDs": 1.85, "IVSd": 0.75, "LVPWd": 0.78, "Ao": 1.7, "LA": 2.3}
CUFF = {"systolic_pressure_mmHg": 145.0, "systolic_pressure_readings": 5}


def recorded(sizes: dict[str, float], **more: Any) -> Exam:
    return exam({**HEART, **sizes}, **{"patient": {"weight_kg": 10.0}, **CUFF, **more})


def believed(sizes: dict[str, float], **more: Any) -> Posterior:
    return fit(recorded(sizes, **more))


def test_a_slow_jet_at_a_normal_pressure_is_unusable() -> None:
    # the example: 3.2 m/s at 145 mmHg, where 5.3 to 6.2 is expected
    found = believed({"MR_Vmax": 3.2})
    assert found.faults["MR_Vmax"].unusable > 0.9
    assert 5.3 < found.faults["MR_Vmax"].should_be < 6.2
    assert found.mean("angle:MR_Vmax") == pytest.approx(56, abs=4)


@pytest.mark.parametrize("readings", [1, 3, 5, None])
def test_the_expected_jet_is_not_doubted(readings: int | None) -> None:
    found = believed({"MR_Vmax": 5.5}, systolic_pressure_readings=readings)
    assert found.faults["MR_Vmax"].unusable < 0.1


def test_a_jet_between_asks_for_a_cuff_series_before_another_jet() -> None:
    one = recorded({"MR_Vmax": 4.5})
    found = fit(one)
    assert 0.1 < found.faults["MR_Vmax"].unusable < 0.9
    (check,) = fault_checks(found, one)
    assert check.about == ("MR_Vmax",)
    assert check.remedy is not None
    assert check.remedy.startswith("Measure the systolic pressure before another jet")


def test_the_slower_the_jet_the_more_it_is_doubted() -> None:
    doubt = [believed({"MR_Vmax": v}).faults["MR_Vmax"].unusable for v in (5.5, 5, 4.5, 4, 3)]
    assert doubt == sorted(doubt)


def test_a_low_jet_is_credible_when_the_pressure_is_low_and_the_atrium_full() -> None:
    # a jet of 4.0 to 4.8 is credible near the end of mitral disease (hezzell 2012)
    failing = {"LA": 3.9, "E": 1.5, "LVIDd": 4.4, "MR_Vmax": 4.5}
    found = believed(failing, systolic_pressure_mmHg=105.0)
    assert found.faults["MR_Vmax"].unusable < 0.35


def test_one_cuff_reading_never_outvotes_a_clean_jet() -> None:
    found = believed(
        {"MR_Vmax": 5.7}, systolic_pressure_mmHg=85.0, systolic_pressure_readings=1
    )
    driven = 4 * 5.7**2 + found.mean("LAP")  # Bernoulli
    assert abs(found.mean("SBP") - driven) < abs(found.mean("SBP") - 85.0)
    assert found.faults["systolic pressure"].unusable > found.faults["MR_Vmax"].unusable


def test_a_lower_bound_says_only_that_the_jet_is_at_least_as_fast() -> None:
    without = believed({})
    bound = believed({}, extra=(measured("MR_Vmax", 3.2, bound="lower"),))
    assert bound.mean("MR_Vmax") == pytest.approx(without.mean("MR_Vmax"), abs=0.1)
    fast = believed({}, extra=(measured("MR_Vmax", 6.3, bound="lower"),))
    assert fast.mean("MR_Vmax") > without.mean("MR_Vmax") + 0.1


def test_swapped_phases_are_one_message_about_both() -> None:
    # a ventricle cannot be larger in systole
    one = recorded({"LVIDd": 1.85, "LVIDs": 3.0})
    found = fit(one)
    (check,) = fault_checks(found, one)
    assert check.verdict is Verdict.FAILS
    assert set(check.about) == {"LVIDd", "LVIDs"}
    assert found.mean("LVIDd") == pytest.approx(3.0, abs=0.2)
    assert check.remedy is not None
    assert check.remedy.startswith("Pick the phases again")


def test_a_doubled_scale_is_one_message_about_all_its_lengths() -> None:
    scaled = tuple(
        measured(name, 2 * value, scale="one image", file="lv.dcm")
        for name, value in HEART.items()
        if name not in ("LA", "Ao")
    )
    one = exam({"LA": 2.3, "Ao": 1.7}, extra=scaled, patient={"weight_kg": 10.0}, **CUFF)
    (check,) = fault_checks(fit(one), one)
    assert set(check.about) == {"LVIDd", "LVIDs", "IVSd", "LVPWd"}
    assert check.remedy is not None
    assert check.remedy.startswith("Check the depth scale")


def test_a_weight_in_pounds_is_found() -> None:
    one = recorded({"LAD": 2.9}, patient={"weight_kg": 22.0})
    (check,) = fault_checks(fit(one), one)
    assert check.about == ("weight",)
    assert "pounds" in check.message
    kg = fit(one).faults["weight"].should_be
    assert kg == pytest.approx(22 / 2.2046, rel=0.15)  # 1 kg = 2.2046 lb


def test_a_consistent_examination_has_no_doubted_number() -> None:
    one = recorded({"MR_Vmax": 5.6, "E": 0.85, "A": 0.65, "LAD": 2.9, "AV_Vmax": 1.2})
    assert fault_checks(fit(one), one) == ()


def test_faults_switched_off_blames_nobody() -> None:
    found = fit(recorded({"MR_Vmax": 3.2}), options=FitOptions(faults=False))
    assert found.faults == {}


def law(name: str, probability: float, *about: str) -> Check:
    state = Verdict.FAILS if probability > 0.9 else Verdict.DOUBTFUL
    return Check(
        id=name, verdict=state, about=about, message=name, probability_unusable=probability
    )


def test_what_both_doubt_is_said_once_and_worst_first() -> None:
    joint = (replace(law("odd-one-out-MR_Vmax", 0.95, "MR_Vmax"), expected="MR_Vmax 5.8 m/s"),)
    single = (
        law("jet-law", 0.8, "MR_Vmax", "systolic pressure"),
        law("because-of-it", 0.6, "LA", "MR_Vmax"),
        law("another", 0.97, "AT", "TR_Vmax"),
        Check(id="fine", verdict=Verdict.HOLDS, about=("Ao",), message=""),
    )
    merged = merge(single, joint)
    assert [one.id for one in merged] == ["another", "jet-law", "fine"]
    assert merged[1].probability_unusable == 0.95
    assert merged[1].expected is not None and merged[1].expected in merged[1].message
    assert {one.id for one in merge(single, ())} == {one.id for one in single}


def test_the_merged_list_names_a_doubted_number_once() -> None:
    one = recorded({"MR_Vmax": 3.2})
    merged = merge(checks(one), fault_checks(fit(one), one))
    doubted = [c for c in merged if c.verdict in (Verdict.FAILS, Verdict.DOUBTFUL)]
    assert [c.about[0] for c in doubted].count("MR_Vmax") == 1
    assert doubted[0].about[0] == "MR_Vmax"
