"""Where the model reduces to arithmetic, it gives what the arithmetic gives."""

from math import hypot, log, pi

import numpy as np
import pytest

from credibility.numbers_by_hand import exam
from tableside.credibility.exam_model import FitOptions, fit
from tableside.credibility.exam_model.heart import AT, COLUMNS, heart
from tableside.credibility.exam_model.observations import observe
from tableside.credibility.exam_model.settings import constants
from tableside.credibility.exam_model.tables import table
from tableside.credibility.exam_model.visit import neutral_constants, visit_constants
from tableside.model import Species

DOG = constants(Species.DOG, FitOptions())
NORMAL_SIZE = {"LVIDd.tail": 0.0, "LVIDd.on_load": 0.0}


def test_one_diameter_gives_the_precision_weighted_mean_of_prior_and_reading() -> None:
    # closed form: product of two normal densities of the log
    one = exam({"LVIDd": 3.6}, patient={"weight_kg": 10.0})
    found = fit(one, options=FitOptions(faults=False, replaced=NORMAL_SIZE))
    reading = one.measurements[0].sd_total / 3.6
    prior_sd = hypot(DOG["LVIDd.sd"], DOG["LVIDd.exponent"] * DOG["weight.error"])
    prior = log(DOG["LVIDd.centre_cm"]) + DOG["LVIDd.exponent"] * log(10.0)
    weight = reading**-2 / (reading**-2 + prior_sd**-2)
    mean = weight * log(3.6) + (1 - weight) * prior
    logs = np.log(found.of("LVIDd"))
    got = float(found.weights @ logs)
    assert got == pytest.approx(mean, abs=0.002)
    sd = float(np.sqrt(found.weights @ (logs - got) ** 2))
    assert sd == pytest.approx((reading**-2 + prior_sd**-2) ** -0.5, rel=0.03)


def test_the_evidence_of_a_weight_alone_is_its_prior_density() -> None:
    found = fit(exam(patient={"weight_kg": 25.0}), options=FitOptions(faults=False))
    sd = hypot(DOG["weight.sd"], DOG["weight.error"])
    z = (log(25.0) - log(DOG["weight.centre_kg"])) / sd
    assert found.log_evidence == pytest.approx(
        -0.5 * z**2 - log(sd * (2 * pi) ** 0.5), abs=0.01
    )


def test_a_cuff_alone_gives_the_precision_weighted_mean() -> None:
    # prior 140 ± 20; three readings ± hypot(10, 19 / sqrt 3) = 14.8
    found = fit(
        exam(systolic_pressure_mmHg=170.0, systolic_pressure_readings=3),
        options=FitOptions(faults=False),
    )
    cuff, prior = hypot(10, 19 / 3**0.5), 20.0
    mean = (170 / cuff**2 + 140 / prior**2) / (cuff**-2 + prior**-2)
    assert found.mean("SBP") == pytest.approx(mean, abs=0.5)
    assert found.sd("SBP") == pytest.approx((cuff**-2 + prior**-2) ** -0.5, rel=0.03)


@pytest.mark.parametrize(
    ("sbp", "lap", "expected"),
    [(90, 8, 4.53), (90, 20, 4.18), (130, 8, 5.52), (150, 20, 5.70), (190, 8, 6.75)],
)
def test_the_expected_mitral_jet_is_that_of_the_simplified_bernoulli_relation(
    sbp: float, lap: float, expected: float
) -> None:
    # computed table of expected jets: sqrt((SBP - LAP) / 4), Hatle's relation
    p = {**neutral_constants(), "SBP.now_mmHg": sbp, "LAP.now_mmHg": lap, "LAP.on_load": 0.0}
    jet = heart(np.zeros((1, len(COLUMNS))), p)["MR_Vmax"][0]
    assert jet == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(
    ("measured", "cv", "printed"),
    [(1.60, 0.06, 0.15), (1.65, 0.09, 0.37), (1.75, 0.06, 0.68), (1.80, 0.09, 0.73)],
)
def test_a_flat_prior_gives_the_threshold_probabilities_of_one_reading(
    measured: float, cv: float, printed: float
) -> None:
    # computed: P(true >= 1.7) = 1 - Phi((1.7 - x) / u), x the reading, u its sd
    size = measured * 10.0**0.294
    others = exam({"LVIDd": size}, share=0.0).measurements[0].sd_total / size
    share = (cv**2 - others**2) ** 0.5
    one = exam({"LVIDd": size}, patient={"weight_kg": 10.0}, share=share)
    flat = {**NORMAL_SIZE, "LVIDd.sd": 5.0, "weight.error": 0.005}
    found = fit(one, options=FitOptions(faults=False, replaced=flat))
    assert found.probability(lambda d: d["LVIDDN"] >= 1.7) == pytest.approx(printed, abs=0.02)


def test_nothing_recorded_gives_the_belief_before_looking() -> None:
    found = fit(exam(patient={"weight_kg": None}))
    assert found.log_evidence == 0.0
    assert found.faults == {}
    assert found.mean("SBP") == pytest.approx(140.0, abs=0.5)
    assert found.sd("SBP") == pytest.approx(20.0, abs=0.5)
    assert found.quantile("HR", 0.5) == pytest.approx(110.0, abs=1.0)


@pytest.mark.parametrize("quantity", ["MR_Vmax", "LVIDd", "AT", "EDV"])
def test_the_density_of_a_reading_adds_up_to_one(quantity: str) -> None:
    one = exam({quantity: 5.0})
    p = visit_constants(one, FitOptions())
    seen = next(o for o in observe(one, p)[0] if o.quantity == quantity)
    made = table(seen, p, True)
    assert np.trapezoid(np.exp(made.total), made.nodes) == pytest.approx(1.0, abs=0.002)
    assert made.rows.sum(0) == pytest.approx(1.0)


def test_a_leak_of_one_half_goes_with_the_sizes_that_define_stage_b2() -> None:
    # RF >= 50 % goes with LA:Ao >= 1.6 and LVIDDN >= 1.7 in 57 dogs (larouchelebel2019)
    p = neutral_constants()
    z = np.zeros((1, len(COLUMNS)))
    z[0, AT["RF"]] = (0.0 - p["RF.logit"]) / p["RF.sd"]
    z[0, AT["weight"]] = 0.0
    state = heart(z, p)
    assert state["RF"][0] == pytest.approx(0.5, abs=1e-6)
    assert state["LA:Ao"][0] == pytest.approx(1.6, abs=0.12)
    assert state["LVIDDN"][0] == pytest.approx(1.7, abs=0.12)


def test_acceleration_time_and_artery_tell_hypertension_about_as_well_as_published() -> None:
    # AT < 53.9 ms: sensitivity .74, specificity .87; MPA:Ao > 1.04: .94 and .74, for a gradient
    # above 50 mmHg (visser2016, 95 % limits of sensitivities of that size are about ± .15)
    d = fit(exam()).draws
    high = d["TRPG"] > 50
    short, wide = d["AT"] < 53.9, d["PAd"] / d["Ao"] > 1.04
    assert short[high].mean() == pytest.approx(0.74, abs=0.2)
    assert (~short[~high]).mean() == pytest.approx(0.87, abs=0.1)
    assert wide[high].mean() == pytest.approx(0.94, abs=0.2)
    assert (~wide[~high]).mean() == pytest.approx(0.74, abs=0.15)
