"""Each law: one examination that holds, one that fails, one that cannot be assessed."""

from dataclasses import dataclass, field
from typing import Any

import pytest

from credibility.numbers_by_hand import exam, measured
from tableside.credibility import LAWS, checks
from tableside.credibility.evidence import of_measurement
from tableside.credibility.laws.wall_area_conservation import area_ratio
from tableside.model import (
    Axis,
    Beat,
    Check,
    Exam,
    Image,
    Mode,
    Region,
    RegionKind,
    Species,
    Verdict,
)

CAT = {"species": Species.CAT, "weight_kg": 4.5}
HEALTHY_LV = {  # middle of Cornell's table at 20 kg [nelsoncouto6, table 2.1]
    "LVIDd": 3.7,
    "LVIDs": 2.4,
    "IVSd": 0.8,
    "IVSs": 1.2,
    "LVPWd": 0.8,
    "LVPWs": 1.2,
}
AT_20_KG = {"patient": {"weight_kg": 20.0}}


def spectrum(
    file: str, flow: str, top_m_s: float = 2.0, heart_rate: float | None = None
) -> Image:
    """A spectral image of 400 rows: zero in the middle, ``top_m_s`` at the upper edge."""
    scale = Axis(unit="m/s", per_pixel=-top_m_s / 200, origin_px=200.0)
    region = Region(index=0, kind=RegionKind.SPECTRAL, box=(0, 0, 799, 400), y=scale)
    return Image(
        file=file,
        mode=Mode.SPECTRAL,
        rows=401,
        columns=800,
        flow=flow,
        regions=(region,),
        stated_heart_rate=heart_rate,
    )


@dataclass(frozen=True)
class Case:
    """One law and three examinations; an absent one means that the law is left out."""

    holds: Exam
    fails: Exam
    not_assessed: Exam
    least: Verdict = Verdict.FAILS  # the mildest verdict allowed where the law must speak
    words: str = "Likely, in order"
    about: str | None = None
    extra: dict[str, Any] = field(default_factory=dict)


def two(quantity: str, first: float, second: float, **labels: Any) -> tuple[Any, Any]:
    return (
        measured(quantity, first, file="a.dcm", **labels),
        measured(quantity, second, file="b.dcm", **labels),
    )


def one_rate(file: str, rate: float) -> Any:
    return measured("HR", rate, file=file)


PULMONARY_HIGH = {"AT:ET": 0.22, "PA:Ao": 1.3}
PULMONARY_LOW = {"AT:ET": 0.45, "PA:Ao": 0.8}

CASES = {
    "tricuspid-jet-across-windows": Case(
        holds=exam(extra=two("TR_Vmax", 3.0, 3.05)),
        fails=exam(
            extra=(
                measured("TR_Vmax", 2.2, file="a.dcm", share=0.01),
                measured("TR_Vmax", 3.6, file="b.dcm"),
            )
        ),
        not_assessed=exam({"TR_Vmax": 3.0}),
        words="only reads low",
    ),
    "tricuspid-jet-against-pressure": Case(
        holds=exam({"TR_Vmax": 3.5}, systolic_pressure_mmHg=140),
        fails=exam({"TR_Vmax": 7.2}, systolic_pressure_mmHg=120, systolic_pressure_readings=5),
        not_assessed=exam({"TR_Vmax": 3.5}),
        least=Verdict.DOUBTFUL,
    ),
    "tricuspid-jet-against-pulmonary-artery": Case(
        holds=exam({"TR_Vmax": 4.3, "AT": 35}, PULMONARY_HIGH),
        fails=exam({"TR_Vmax": 4.6, "AT": 85}, PULMONARY_LOW),
        not_assessed=exam({"TR_Vmax": 4.6}),
        least=Verdict.DOUBTFUL,
    ),
    "jet-identity": Case(
        holds=exam({"MR_Vmax": 5.5, "MR_VTI": 100, "ET": 165}),
        fails=exam({"MR_Vmax": 3.0, "MR_VTI": 31, "ET": 165}),
        not_assessed=exam({"MR_Vmax": 5.5, "MR_VTI": 100}),
        least=Verdict.DOUBTFUL,
    ),
    "pulmonary-pressures-order": Case(
        holds=exam({"TR_Vmax": 3.0, "PR_Vmax": 2.1, "PR_Vend": 1.5}),
        fails=exam({"PR_Vmax": 1.5, "PR_Vend": 2.9}),
        not_assessed=exam({"PR_Vmax": 2.0}),
    ),
    "stroke-volume-against-outflow": Case(
        holds=exam({"EDV": 60, "ESV": 25}, {"SV": 30}),
        fails=exam({"EDV": 40, "ESV": 30}, {"SV": 36}),
        not_assessed=exam({}, {"SV": 30}),
        least=Verdict.DOUBTFUL,
    ),
    "regurgitation-against-size": Case(
        holds=exam(
            {"EDV": 90, "ESV": 25, "MR_Vmax": 5.5}, {"SV": 25, "LA:Ao": 2.0, "LVIDDN": 2.0}
        ),
        fails=exam(
            {"EDV": 90, "ESV": 20, "MR_Vmax": 5.5}, {"SV": 15, "LA:Ao": 1.2, "LVIDDN": 1.4}
        ),
        not_assessed=exam({"EDV": 90, "ESV": 25}),
        least=Verdict.DOUBTFUL,
    ),
    "pulmonic-against-aortic-flow": Case(
        holds=exam({"PAd": 1.8, "PV_VTI": 13, "LVOTd": 1.7, "AV_VTI": 14}),
        fails=exam({"PAd": 1.8, "PV_VTI": 13, "LVOTd": 3.6, "AV_VTI": 18}),
        not_assessed=exam({"PAd": 1.8, "PV_VTI": 13}),
        least=Verdict.DOUBTFUL,
    ),
    "heart-rate-across-images": Case(
        holds=exam(
            extra=(one_rate("a.dcm", 118), one_rate("b.dcm", 110), one_rate("c.dcm", 121))
        ),
        fails=exam(
            extra=(one_rate("a.dcm", 118), one_rate("b.dcm", 236), one_rate("c.dcm", 121))
        ),
        not_assessed=exam({"HR": 118}),
        words="ratio of",
    ),
    "heart-rate-against-printed": Case(
        holds=exam({"HR": 118}, images=(spectrum("HR.dcm", "aortic outflow", heart_rate=120),)),
        fails=exam({"HR": 118}, images=(spectrum("HR.dcm", "aortic outflow", heart_rate=59),)),
        not_assessed=exam({"HR": 118}),
    ),
    "septum-against-free-wall": Case(
        holds=exam({"IVSd": 0.80, "LVPWd": 0.78}),
        fails=exam({"IVSd": 1.9, "LVPWd": 0.8}),
        not_assessed=exam({"IVSd": 0.8}),
        about="IVSd",
    ),
    "systole-below-diastole": Case(
        holds=exam({"LVIDd": 3.7, "LVIDs": 2.4}),
        fails=exam({"LVIDd": 2.4, "LVIDs": 3.7}),
        not_assessed=exam({"LVIDs": 2.4}),
        about="LVIDs",
    ),
    "shortening-against-epss": Case(
        holds=exam({"EPSS": 0.3}, {"FS": 38}),
        fails=exam({"EPSS": 2.4}, {"FS": 42}),
        not_assessed=exam({"EPSS": 0.3}),
        least=Verdict.DOUBTFUL,
    ),
    "wall-area-conservation": Case(
        holds=exam(HEALTHY_LV),
        fails=exam({**HEALTHY_LV, "LVPWs": 0.45, "IVSs": 0.55}),
        not_assessed=exam({"LVIDd": 3.7, "IVSs": 1.2}),
    ),
    "atrium-short-against-long-axis": Case(
        holds=exam({"LA": 2.4, "LAD": 2.9}),
        fails=exam({"LA": 4.9, "LAD": 2.6}),
        not_assessed=exam({"LA": 2.4}),
    ),
    "atrium-2d-against-m-mode": Case(
        holds=exam({}, {"LA:Ao": 1.33, "LA:Ao_m-mode": 1.2}),
        fails=exam({}, {"LA:Ao": 2.4, "LA:Ao_m-mode": 1.1}),
        not_assessed=exam({}, {"LA:Ao_m-mode": 1.2, "LA:Ao": 1.3}, patient=CAT),
    ),
    "atrium-against-inflow": Case(
        holds=exam({"E": 0.8}, {"LA:Ao": 1.3}),
        fails=exam({"E": 1.8}, {"LA:Ao": 1.1}),
        not_assessed=exam({"E": 0.8}),
    ),
    "ejection-time-against-rate": Case(
        holds=exam({"ET": 160, "HR": 110}),
        fails=exam({"ET": 275, "HR": 130}),
        not_assessed=exam({"ET": 160}),
    ),
    "ejection-times-of-both-valves": Case(
        holds=exam(
            extra=two("ET", 165, 172),
            images=(spectrum("a.dcm", "aortic outflow"), spectrum("b.dcm", "pulmonic outflow")),
        ),
        fails=exam(
            extra=two("ET", 165, 290),
            images=(spectrum("a.dcm", "aortic outflow"), spectrum("b.dcm", "pulmonic outflow")),
        ),
        not_assessed=exam({"ET": 165}),
        least=Verdict.DOUBTFUL,
    ),
    "pressure-rise-against-shortening": Case(
        holds=exam({}, {"dP/dt": 1600, "FS": 40}),
        fails=exam({}, {"dP/dt": 330, "FS": 52}),
        not_assessed=exam({}, {"dP/dt": 1600}),
        least=Verdict.DOUBTFUL,
    ),
    "calibration-against-aorta": Case(
        holds=exam({"Ao": 2.2}, **AT_20_KG),
        fails=exam({"Ao": 4.4}, **AT_20_KG),
        not_assessed=exam({"Ao": 2.2}, patient=CAT),
    ),
    "joint-allometry": Case(
        holds=exam(HEALTHY_LV, **AT_20_KG),
        fails=exam({**HEALTHY_LV, "IVSs": 0.55}, **AT_20_KG),
        not_assessed=exam(HEALTHY_LV, patient=CAT),
        about="IVSs",
    ),
    "weight-unit": Case(
        holds=exam({**HEALTHY_LV, "Ao": 2.2}, **AT_20_KG),
        fails=exam({**HEALTHY_LV, "Ao": 2.2}, patient={"weight_kg": 20 * 2.2046}),
        not_assessed=exam(HEALTHY_LV, patient=CAT),
        least=Verdict.DOUBTFUL,
        words="pounds",
        about="weight",
    ),
    "nyquist": Case(
        holds=exam({"E": 0.9}, images=(spectrum("E.dcm", "mitral inflow", 2.0),)),
        fails=exam({"E": 1.95}, images=(spectrum("E.dcm", "mitral inflow", 2.0),)),
        not_assessed=exam({"E": 0.9}),
        least=Verdict.DOUBTFUL,
    ),
}
ORDER = (Verdict.HOLDS, Verdict.DOUBTFUL, Verdict.FAILS)


def check_of(id_: str, one: Exam) -> Check | None:
    return next((check for check in checks(one) if check.id == id_), None)


def test_every_law_has_its_three_cases() -> None:
    assert {law.id for law in LAWS} == {*CASES, "mitral-jet-against-pressure"}


@pytest.mark.parametrize("id_", CASES)
def test_a_law_holds_where_the_numbers_fit(id_: str) -> None:
    check = check_of(id_, CASES[id_].holds)
    assert check is not None and check.verdict is Verdict.HOLDS, check
    assert check.remedy is None and check.message
    assert check.probability_unusable is not None and check.probability_unusable < 0.3


@pytest.mark.parametrize("id_", CASES)
def test_a_law_speaks_where_they_do_not(id_: str) -> None:
    case = CASES[id_]
    check = check_of(id_, case.fails)
    assert check is not None
    assert ORDER.index(check.verdict) >= ORDER.index(case.least), check
    assert check.remedy is not None and check.seconds is not None and check.seconds <= 60
    assert case.words in check.message
    if case.about is not None:
        assert check.about[0] == case.about


@pytest.mark.parametrize("id_", CASES)
def test_a_law_says_what_it_lacks_or_stays_silent(id_: str) -> None:
    check = check_of(id_, CASES[id_].not_assessed)
    if check is not None:
        assert check.verdict is Verdict.NOT_ASSESSED
        assert check.probability_unusable is None and check.message.endswith(".")


@pytest.mark.parametrize("id_", CASES)
def test_a_law_is_more_doubtful_of_the_misfit_than_of_the_fit(id_: str) -> None:
    holds, fails = (check_of(id_, one) for one in (CASES[id_].holds, CASES[id_].fails))
    assert holds is not None and fails is not None
    assert (fails.probability_unusable or 0) > (holds.probability_unusable or 0)


@pytest.mark.parametrize("law", [law for law in LAWS if law.species], ids=lambda law: law.id)
def test_a_rule_of_dogs_is_said_not_to_apply_to_a_cat(law: Any) -> None:
    case = CASES[law.id]
    cat = exam(patient=CAT)
    one = Exam(
        study=cat.study, measurements=case.fails.measurements, indices=case.fails.indices
    )
    check = law.applied(one)
    assert check is not None and check.verdict is Verdict.NOT_ASSESSED
    assert "is not applied to a cat" in check.message


# incompressible muscle: a lengthwise shortening of 12 to 22 % makes the ratio 1.14 to 1.28
def test_the_healthy_ventricle_of_the_textbook_keeps_its_wall() -> None:
    ratio = area_ratio(
        *(HEALTHY_LV[name] for name in ("LVIDd", "IVSd", "LVPWd")), 2.4, 1.2, 1.2
    )
    assert 1.02 < ratio < 1.45


def test_what_one_image_shares_is_left_out_of_a_ratio() -> None:
    both = of_measurement(measured("LVIDd", 3.7))
    assert both.sd_same < both.sd


def test_a_jet_at_the_end_of_its_scale_is_named_with_its_limit() -> None:
    one = exam({"E": 1.95}, images=(spectrum("E.dcm", "mitral inflow", 2.0),))
    check = check_of("nyquist", one)
    assert check is not None and "ends at 2.00 m/s" in check.message


def test_the_side_of_the_baseline_that_the_flow_is_on_counts() -> None:
    # zero at row 300: 3 m/s of room above, 1 m/s below; the flow points down
    scale = Axis(unit="m/s", per_pixel=-0.01, origin_px=300.0)
    region = Region(index=0, kind=RegionKind.SPECTRAL, box=(0, 0, 799, 400), y=scale)
    image = Image(file="x.dcm", mode=Mode.SPECTRAL, rows=401, columns=800, regions=(region,))
    down = measured("AV_Vmax", 0.98, file="x.dcm")
    beat = Beat(file="x.dcm", frame=0, value=0.98, points=((100.0, 398.0),))
    cut = Exam(
        study=exam(images=(image,)).study,
        measurements=(type(down)(**{**_fields(down), "beats": (beat,)}),),
    )
    check = check_of("nyquist", cut)
    assert check is not None and check.verdict is not Verdict.HOLDS


def _fields(one: Any) -> dict[str, Any]:
    return {name: getattr(one, name) for name in one.__dataclass_fields__}
