"""Which intervals an animal gets, in which order, and how far from the centre it stands."""

import datetime as dt
from dataclasses import replace
from math import log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tableside.derive import indices
from tableside.model import (
    Beat,
    Exam,
    Image,
    Measurement,
    Mode,
    Patient,
    Reference,
    Sex,
    Species,
    Spread,
    Study,
    Visit,
    quantity,
)
from tableside.reference import references, with_references

DOG = Patient(species=Species.DOG, weight_kg=10.0, breed="Mixed")
CAT = Patient(species=Species.CAT, weight_kg=4.0)
TODAY = dt.date(2026, 3, 14)


def sources(name: str, value: float, patient: Patient, **more: str) -> list[str]:
    return [one.source for one in references(name, value, patient, **more)]


def first(name: str, value: float, patient: Patient, source: str) -> Reference:
    return next(one for one in references(name, value, patient) if one.source == source)


def measured(name: str, value: float, file: str = "I1", **labels: str) -> Measurement:
    return Measurement(
        quantity=name,
        value=value,
        unit=quantity(name).unit,
        spread=Spread(trace=0.01 * value),
        method="caliper",
        beats=(Beat(file=file, frame=0, value=value),),
        **labels,
    )


def test_the_primary_set_stands_first_and_the_others_beside_it() -> None:
    found = sources("LVIDd", 3.35, DOG)
    assert found == ["cornell2004", "esser2020", "rishniwbrown2022"]
    assert sources("LVIDDN", 1.7, DOG) == ["cornell2004"]
    assert sources("LVIDDN_0.33", 1.6, DOG) == ["rishniwbrown2022"]


def test_the_published_interval_of_the_index_is_given_as_printed() -> None:
    """1.27 to 1.85: cornell2004, 95 % prediction interval; z by its log-normal SD 0.096."""
    (found,) = references("LVIDDN", 1.50, DOG)
    assert (found.low, found.high) == (1.27, 1.85)
    assert found.z == pytest.approx(log(1.50 / (1.27 * 1.85) ** 0.5) / 0.096, abs=0.01)
    assert found.read == "page"


@pytest.mark.parametrize(
    ("name", "p5", "p95"),
    [
        ("LVIDDN", 1.31, 1.79),
        ("LVIDSN", 0.74, 1.20),
        ("IVSdN", 0.31, 0.56),
        ("LVPWdN", 0.31, 0.57),
        ("IVSsN", 0.45, 0.75),
        ("LVPWsN", 0.50, 0.83),
        ("AoN_m-mode", 0.65, 0.93),
        ("LAN_m-mode", 0.61, 0.93),
    ],
)
def test_the_5th_and_95th_percentile_stand_at_1_645_sd(
    name: str, p5: float, p95: float
) -> None:
    """Log-normal interpolation of cornell2004, worked out apart; two digits, so 0.1 SD."""
    for value, z in ((p5, -1.645), (p95, 1.645)):
        assert references(name, value, DOG)[0].z == pytest.approx(z, abs=0.1)


@pytest.mark.parametrize(
    ("name", "constants", "exponent"),
    [
        ("LVIDd", (1.20, 1.30, 1.38, 1.46, 1.59), 0.322),
        ("LVIDs", (0.72, 0.81, 0.87, 0.94, 1.05), 0.346),
        ("IVSd", (0.28, 0.33, 0.36, 0.40, 0.47), 0.289),
        ("IVSs", (0.40, 0.46, 0.51, 0.56, 0.65), 0.276),
    ],
)
@pytest.mark.parametrize("weight_kg", [4.0, 12.0, 45.0])
def test_printed_percentiles_stand_where_a_normal_law_puts_them(
    name: str, constants: tuple[float, ...], exponent: float, weight_kg: float
) -> None:
    """Esser 2020, index table: the 5, 25, 50, 75, 95 % rows, which the z does not use."""
    dog = replace(DOG, weight_kg=weight_kg)
    expected = (-1.645, -0.674, 0.0, 0.674, 1.645)
    for constant, z in zip(constants, expected, strict=True):
        found = first(name, constant * weight_kg**exponent, dog, "esser2020")
        assert found.z == pytest.approx(z, abs=0.15)


def test_the_median_of_all_dogs_is_the_centre_at_10_kg() -> None:
    """Esser 2020: limits 2.46 to 3.42 cm for LVIDd at 10 kg, from 1.17 and 1.63 * 10^0.322."""
    found = first("LVIDd", 1.38 * 10**0.322, DOG, "esser2020")
    assert found.low == pytest.approx(2.46, abs=0.005)
    assert found.high == pytest.approx(3.42, abs=0.005)
    assert found.z == pytest.approx(0.0, abs=1e-9)


def test_rows_that_could_not_be_read_are_absent() -> None:
    assert "esser2020" not in sources("LVPWd", 0.8, DOG) + sources("LVPWs", 1.2, DOG)
    assert sources("LAD", 3.0, DOG) == ["hetyey2005"]


def test_sighthounds_are_outside_the_population_that_left_them_out() -> None:
    assert "esser2020" not in sources(
        "LVIDd", 4.4, replace(DOG, breed="Whippet", weight_kg=13.0)
    )


def test_a_breed_goes_first_in_whatever_way_it_is_written() -> None:
    for name in ("Great Dane", "great dane", "GREAT-DANE"):
        dane = Patient(species=Species.DOG, weight_kg=62.0, breed=name)
        found = references("LVIDd", 5.3, dane)
        assert found[0].source == "koch1996"
        assert (found[0].low, found[0].high) == pytest.approx((4.4, 5.9))
        assert found[1].source == "cornell2004"


@pytest.mark.parametrize(
    ("sex", "high_cm"),
    [(Sex.MALE, 4.8), (Sex.MALE_NEUTERED, 4.8), (Sex.FEMALE, 4.6), (None, None)],
)
def test_limits_by_sex_need_the_sex(sex: Sex | None, high_cm: float | None) -> None:
    """wess2017: LVIDd above 48 mm in male, 46 mm in female Dobermans."""
    dog = Patient(species=Species.DOG, weight_kg=36.0, breed="Dobermann", sex=sex)
    found = [one.high for one in references("LVIDd", 4.7, dog) if one.source == "wess2017"]
    assert found == ([] if high_cm is None else [pytest.approx(high_cm)])


def test_doubtful_digits_never_go_first() -> None:
    boxer = Patient(species=Species.DOG, weight_kg=28.0, breed="Boxer")
    found = sources("LVIDd", 4.0, boxer)
    assert found[0] == "cornell2004"
    assert found[-1] == "herrtage1994"
    assert sources("LA:Ao", 1.3, DOG) == ["hansson2002", "wesselowski2014", "rishniw2000"]


def test_a_breed_limit_by_discs_is_not_put_beside_another_method() -> None:
    doberman = Patient(species=Species.DOG, weight_kg=36.0, breed="Dobermann")
    assert sources("ESVI", 50.0, doberman, detail="discs") == ["wess2010smod", "csaim"]
    assert sources("ESVI", 50.0, doberman) == ["csaim"]


def test_m_mode_limits_of_the_heart_base_are_not_put_beside_two_dimensional_sizes() -> None:
    assert sources("LA", 2.0, DOG) == []
    assert sources("LA", 2.0, DOG, detail="m-mode") == ["cornell2004"]


def test_no_interval_for_another_or_an_unknown_species() -> None:
    assert "cornell2004" not in sources("LVIDd", 1.5, CAT)
    assert sources("LVIDd", 1.5, CAT)[0] == "nelsoncouto6"
    assert sources("LVIDd", 1.5, Patient(weight_kg=4.0)) == []


def test_no_interval_for_a_growing_dog() -> None:
    """Puppies follow other exponents (0.31 to 0.45): sisson1991."""
    pup = replace(DOG, birth_date=dt.date(2025, 9, 1))
    assert references("LVIDd", 3.0, pup, on=TODAY) == ()
    grown = replace(DOG, birth_date=dt.date(2025, 3, 1))
    assert references("LVIDd", 3.0, grown, on=TODAY)
    assert references("LVIDd", 3.0, pup)  # the day is not known, so the age is not either


def test_no_interval_outside_the_weights_of_the_study() -> None:
    """cornell2004: 2.2 to 95 kg."""
    for weight_kg, holds in ((2.1, False), (2.2, True), (95.0, True), (96.0, False)):
        found = sources("LVIDDN", 1.5, replace(DOG, weight_kg=weight_kg))
        assert ("cornell2004" in found) is holds


def test_limits_by_weight_need_a_weight() -> None:
    weightless = replace(DOG, weight_kg=None)
    assert sources("LVIDd", 3.4, weightless) == []
    assert sources("FS", 35.0, weightless) == ["nelsoncouto6"]


@pytest.mark.parametrize(
    ("weight_kg", "low"), [(8.0, 0.45), (14.9, 0.45), (15.0, 0.8), (40.0, 0.8), (41.0, 1.2)]
)
def test_annular_motion_by_bands_of_weight(weight_kg: float, low: float) -> None:
    """schober2001mam: decreased below 0.45, 0.8, 1.2 cm under 15, 15 to 40, over 40 kg."""
    (found,) = references("MAPSE", 0.9, replace(DOG, weight_kg=weight_kg))
    assert (found.low, found.high, found.z) == (low, None, None)


def test_a_line_in_weight_is_given_in_the_unit_of_the_measurement() -> None:
    """hetyey2005: 0.54 * 20 + 18.502 = 29.302 mm, SD 4.76 mm."""
    (found,) = references("LAD", 2.9302 + 0.476, replace(DOG, weight_kg=20.0))
    assert found.z == pytest.approx(1.0)
    assert found.low == pytest.approx((29.302 - 1.96 * 4.76) / 10)


def test_digits_not_read_on_a_page_say_so() -> None:
    found = references("LA:Ao", 1.3, DOG)[0]
    assert found.read == "memory"
    assert found.note is not None and "check the publication" in found.note


@given(st.floats(2.2, 95.0))
def test_the_limits_are_where_z_is_1_96(weight_kg: float) -> None:
    dog = replace(DOG, weight_kg=weight_kg)
    limits = first("LVIDd", 3.0, dog, "cornell2004")
    assert limits.low is not None and limits.high is not None
    assert first("LVIDd", limits.low, dog, "cornell2004").z == pytest.approx(-1.96)
    assert first("LVIDd", limits.high, dog, "cornell2004").z == pytest.approx(1.96)


@given(st.floats(2.2, 94.0), st.floats(0.01, 1.0))
def test_limits_rise_with_weight_and_z_with_the_value(weight_kg: float, more: float) -> None:
    dog, heavier = (replace(DOG, weight_kg=kg) for kg in (weight_kg, weight_kg + more))
    for source in ("cornell2004", "esser2020"):
        one, other = (first("LVIDd", 3.0, animal, source) for animal in (dog, heavier))
        assert one.low is not None and other.low is not None and one.low < other.low
        larger = first("LVIDd", 3.0 + more, dog, source)
        assert one.z is not None and larger.z is not None and one.z < larger.z


def test_an_examination_gets_its_intervals() -> None:
    images = (
        Image(file="S", mode=Mode.SPECTRAL, rows=9, columns=9, flow="mitral annulus septal"),
    )
    patient = Patient(species=Species.DOG, weight_kg=30.0, breed="Boxer", sex=Sex.MALE)
    study = Study(patient=patient, visit=Visit(date=TODAY), images=images)
    numbers = (
        measured("LVIDd", 4.2),
        measured("LA", 2.4, detail="m-mode"),
        measured("E'", 0.0658, file="S"),
        measured("E", 0.7),
        measured("EDV", 60.0),
    )
    exam = Exam(study=study, measurements=numbers)
    exam = with_references(replace(exam, indices=indices(exam)))
    by_name = {one.quantity: one for one in exam.measurements}
    assert by_name["LA"].references[0].source == "cornell2004"
    assert by_name["E'"].references[0].source == "choi2013"
    assert by_name["E'"].references[0].z == pytest.approx(0.0, abs=1e-9)
    lviddn, per_annulus, volume = (exam.index(name) for name in ("LVIDDN", "E:E'", "EDVI"))
    assert lviddn is not None and lviddn.references[0].source == "cornell2004"
    assert per_annulus is not None and per_annulus.references[0].source == "choi2013"
    assert volume is not None and volume.references[0].source == "smets2014"


def test_the_lateral_annulus_is_not_put_beside_limits_of_the_septal_one() -> None:
    images = (
        Image(file="S", mode=Mode.SPECTRAL, rows=9, columns=9, flow="mitral annulus lateral"),
    )
    study = Study(patient=replace(DOG, weight_kg=30.0), images=images)
    exam = with_references(Exam(study=study, measurements=(measured("E'", 0.08, file="S"),)))
    assert exam.measurements[0].references == ()
