"""Each formula against a law of physics, a solid of known volume, or its own inverse."""

from math import cos, exp, log, pi, radians, sin, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tableside.derive.allometry import allometric_index, annular_excursion_index
from tableside.derive.body import cat_body_surface, dog_body_surface, mass_by_weight
from tableside.derive.chambers import (
    diameter_lost,
    fractional_area_change,
    fractional_shortening,
    ventricular_mass,
)
from tableside.derive.doppler import (
    bernoulli_with_proximal,
    early_peak_over_relaxation,
    mean_gradient,
    peak_ratio,
    pressure_half_time,
    simplified_bernoulli,
    speed_share,
)
from tableside.derive.flow import (
    cardiac_index,
    cardiac_output,
    continuity_area,
    cross_section,
    shunt_ratio,
    stroke_volume,
)
from tableside.derive.leak import (
    orifice_area,
    proximal_surface_flow,
    regurgitant_fraction,
    regurgitant_volume,
    volume_through,
)
from tableside.derive.pressures import (
    left_atrial_pressure,
    mean_from_systolic_pressure,
    pressure_beyond,
    pulmonary_diastolic_pressure,
    pulmonary_mean_pressure,
    pulmonary_resistance,
    pulmonary_systolic_pressure,
    right_ventricular_pressure,
    wall_stress,
)
from tableside.derive.ratios import (
    diameter_ratio,
    echo_ratio_index,
    relative_wall_thickness,
    sphericity_index,
)
from tableside.derive.timing import (
    acceleration_share,
    ejection_time_index,
    performance_index,
    pressure_rise_rate,
    rate_corrected_shortening_velocity,
    shortening_velocity,
    systolic_time_ratio,
)
from tableside.derive.volumes import (
    area_length_volume,
    biplane_discs_volume,
    bullet_volume,
    discs_volume,
    ejection_fraction,
    left_atrial_volume,
    teichholz_volume,
    volume_by_surface,
    volume_by_weight,
)
from tableside.errors import OutOfRange

BLOOD_KG_M3 = 1060.0  # density of blood; memory, textbook physiology
PASCAL_PER_MMHG = 133.322  # exact to six digits; SI brochure, 8th edition, table 8


def ellipsoid_widths(short_cm: float, discs: int) -> list[float]:
    """Widths of an ellipsoid at the middle of equal discs along its long axis."""
    places = [2 * (i + 0.5) / discs - 1 for i in range(discs)]
    return [short_cm * sqrt(1 - place**2) for place in places]


def test_the_4_is_half_the_density_of_blood() -> None:
    expected = BLOOD_KG_M3 / 2 / PASCAL_PER_MMHG
    assert simplified_bernoulli(1.0) == pytest.approx(expected, rel=0.01)


@given(st.floats(0.0, 8.9), st.floats(1e-3, 0.1))
def test_a_faster_jet_means_a_larger_drop(jet_m_s: float, more_m_s: float) -> None:
    assert simplified_bernoulli(jet_m_s + more_m_s) > simplified_bernoulli(jet_m_s)


@given(st.floats(0.1, 250.0))
def test_the_speed_of_a_drop_gives_the_drop_back(drop_mmHg: float) -> None:
    assert simplified_bernoulli(sqrt(drop_mmHg / 4)) == pytest.approx(drop_mmHg)


def test_energy_before_the_orifice_is_taken_off() -> None:
    whole, before = simplified_bernoulli(4.0), simplified_bernoulli(1.5)
    assert bernoulli_with_proximal(4.0, 1.5) == pytest.approx(whole - before)
    with pytest.raises(OutOfRange, match="swapped"):
        bernoulli_with_proximal(1.5, 4.0)


def test_mean_gradient_of_half_a_sine_and_of_a_triangle() -> None:
    """Over 4 (mean v)^2: pi^2/8 = 1.234 for half a sine, 4/3 for a triangle (integrals)."""
    steps = 2000
    sine = [3 * sin(pi * (i + 0.5) / steps) for i in range(steps)]
    rise = [3 * (i + 0.5) / steps for i in range(steps)]
    for speeds, ratio in ((sine, pi**2 / 8), (rise, 4 / 3)):
        of_the_mean = 4 * (sum(speeds) / steps) ** 2
        assert mean_gradient(speeds) / of_the_mean == pytest.approx(ratio, rel=1e-4)


def test_an_angle_lowers_speed_by_cosine_and_pressure_by_its_square() -> None:
    read = 5.0 * speed_share(30.0)
    assert read == pytest.approx(5.0 * cos(radians(30)))
    assert simplified_bernoulli(read) / simplified_bernoulli(5.0) == pytest.approx(0.75)


@given(st.floats(0.1, 4.0), st.floats(0.1, 4.0))
def test_a_ratio_of_peaks_times_its_divisor_is_the_peak(one: float, other: float) -> None:
    assert peak_ratio(one, other) * other == pytest.approx(one)


def test_early_peak_over_relaxation_is_the_same_in_si() -> None:
    assert early_peak_over_relaxation(100.0, 50.0) == pytest.approx(1.0 / 0.050 / 10)


def test_half_time_is_when_a_straight_fall_reaches_the_peak_over_root_two() -> None:
    assert pressure_half_time(400.0) == pytest.approx(400 * (1 - 1 / sqrt(2)), rel=0.011)


@given(st.floats(0.5, 12.0), st.floats(0.0, 1.0))
def test_shortening_turns_diastole_into_systole(diastole_cm: float, share: float) -> None:
    systole_cm = diastole_cm * share
    lost = fractional_shortening(diastole_cm, systole_cm)
    assert diastole_cm * (1 - lost / 100) == pytest.approx(systole_cm, abs=1e-9)


def test_systole_larger_than_diastole_is_refused_not_negative() -> None:
    for function in (fractional_shortening, ejection_fraction, fractional_area_change):
        with pytest.raises(OutOfRange, match="swapped"):
            function(3.0, 3.1)
    with pytest.raises(OutOfRange, match="swapped"):
        diameter_lost(10.0, 10.1)


def test_area_change_of_a_scaled_outline() -> None:
    assert fractional_area_change(10.0, 10.0 * 0.7**2) == pytest.approx(51.0)
    assert diameter_lost(10.0, 7.0) == pytest.approx(30.0)


def test_mass_is_muscle_density_times_shell_up_to_the_fitted_terms() -> None:
    """A thin wall: mass over 0.8 of density times cube shell; 1.04 g/mL is muscle's density."""
    shell = (0.8 + 3.6 + 0.8) ** 3 - 3.6**3
    assert (ventricular_mass(0.8, 3.6, 0.8) - 0.6) / shell == pytest.approx(0.8 * 1.04)
    assert mass_by_weight(80.0, 20.0) == pytest.approx(4.0)


@given(st.floats(0.5, 1.9))
def test_ratios_do_not_depend_on_the_scale(scale: float) -> None:
    for ratio in (diameter_ratio, sphericity_index, relative_wall_thickness):
        assert ratio(2.4 * scale, 1.5 * scale) == pytest.approx(ratio(2.4, 1.5))


@given(st.floats(0.5, 100.0), st.floats(0.2, 0.5))
def test_a_size_grown_with_weight_keeps_its_index(weight_kg: float, exponent: float) -> None:
    grown_cm = 1.5 * weight_kg**exponent
    assert allometric_index(grown_cm, weight_kg, exponent) == pytest.approx(1.5)
    assert annular_excursion_index(grown_cm, weight_kg, exponent) == pytest.approx(1.5)


def test_both_exponents_agree_at_1_kg_and_part_with_weight() -> None:
    at_1_kg = {allometric_index(1.5, 1.0, exponent) for exponent in (0.294, 0.33)}
    assert len(at_1_kg) == 1
    apart = allometric_index(5.0, 60.0, 0.294) / allometric_index(5.0, 60.0, 0.33)
    assert apart == pytest.approx(exp(0.036 * log(60)))


def test_the_weight_aorta_is_isometric() -> None:
    """Eight times the weight is twice the length: geometry."""
    assert echo_ratio_index(1.0, 4.0) / echo_ratio_index(1.0, 32.0) == pytest.approx(2.0)


def test_discs_sum_to_a_prolate_ellipsoid() -> None:
    """pi/6 * 3 * 3 * 6 = 28.27 mL: solid geometry."""
    volume = discs_volume(ellipsoid_widths(3.0, 20), 6.0)
    assert volume == pytest.approx(28.27, abs=0.2)
    finer = discs_volume(ellipsoid_widths(3.0, 400), 6.0)
    assert finer == pytest.approx(pi / 6 * 3 * 3 * 6, rel=1e-5)


def test_two_views_sum_to_a_flattened_ellipsoid() -> None:
    one, other = ellipsoid_widths(3.0, 400), ellipsoid_widths(2.0, 400)
    assert biplane_discs_volume(one, other, 6.0) == pytest.approx(pi / 6 * 36, rel=1e-5)
    with pytest.raises(OutOfRange, match="as many"):
        biplane_discs_volume(one, other[:-1], 6.0)


def test_area_and_length_give_a_prolate_ellipsoid() -> None:
    area_cm2 = pi / 4 * 3 * 6
    assert area_length_volume(area_cm2, 6.0) == pytest.approx(pi / 6 * 3 * 3 * 6)
    assert left_atrial_volume(area_cm2, area_cm2, 6.0) == pytest.approx(pi / 6 * 54)


def test_a_bullet_is_half_cylinder_and_half_ellipsoid() -> None:
    """Half the length at full section, half as half an ellipsoid: 1/2 + 1/2 * 2/3."""
    area_cm2, length_cm = 7.0, 6.0
    halves = area_cm2 * length_cm / 2 * (1 + 2 / 3)
    assert bullet_volume(area_cm2, length_cm) == pytest.approx(halves)


@given(st.floats(0.5, 10.0))
def test_teichholz_has_an_axis_ratio_that_falls_with_size(diameter_cm: float) -> None:
    """V = pi/6 D^3 * (L/D): the tacit length over diameter falls towards a sphere."""

    def length_over_diameter(size_cm: float) -> float:
        return teichholz_volume(size_cm) / (pi / 6 * size_cm**3)

    assert length_over_diameter(diameter_cm) > length_over_diameter(diameter_cm + 0.5)


def test_volumes_are_shared_out_by_body() -> None:
    assert volume_by_weight(9.2, 10.0) * 10 == pytest.approx(9.2)
    assert volume_by_surface(47.0, 0.5) * 0.5 == pytest.approx(47.0)


def test_body_surface_scales_as_weight_to_two_thirds() -> None:
    for surface in (dog_body_surface, cat_body_surface):
        assert surface(16.0) / surface(2.0) == pytest.approx(4.0)
    assert cat_body_surface(4.0) < dog_body_surface(4.0)


def test_flow_is_area_times_distance() -> None:
    """A plug of blood 14 cm long in a pipe of 1.8 cm: a cylinder."""
    assert stroke_volume(1.8, 14.0) == pytest.approx(pi * 0.9**2 * 14)
    assert volume_through(cross_section(1.8), 14.0) == pytest.approx(stroke_volume(1.8, 14.0))
    assert cardiac_output(20.0, 60.0) == pytest.approx(20.0 * 60 / 1000)
    assert cardiac_index(1.2, 0.5) * 0.5 == pytest.approx(1.2)


def test_what_enters_a_narrow_valve_leaves_it() -> None:
    valve_cm2 = continuity_area(2.0, 14.0, 56.0)
    assert volume_through(valve_cm2, 56.0) == pytest.approx(volume_through(2.0, 14.0))
    assert shunt_ratio(20.0, 20.0) == 1.0


def test_flow_through_the_half_sphere_passes_the_orifice() -> None:
    flow_mL_s = proximal_surface_flow(0.5, 40.0)
    assert flow_mL_s == pytest.approx(4 * pi * 0.5**2 / 2 * 40)
    assert orifice_area(flow_mL_s, 500.0) * 500 == pytest.approx(flow_mL_s)


def test_volumes_through_mitral_and_aortic_valve_add_up() -> None:
    back = regurgitant_volume(60.0, 20.0, 15.0)
    assert back + 15.0 == pytest.approx(60.0 - 20.0)
    assert regurgitant_fraction(back, 15.0) == pytest.approx(100 * back / 40.0)
    with pytest.raises(OutOfRange, match="aorta cannot carry"):
        regurgitant_volume(60.0, 20.0, 45.0)


def test_pressures_add_along_the_way_of_the_blood() -> None:
    ventricle = right_ventricular_pressure(4.5, 5.0)
    assert ventricle - simplified_bernoulli(4.5) == pytest.approx(5.0)
    artery = pulmonary_systolic_pressure(ventricle, 3.0)
    assert artery + simplified_bernoulli(3.0) == pytest.approx(ventricle)
    assert pressure_beyond(140.0, 5.5) + simplified_bernoulli(5.5) == pytest.approx(140.0)


def test_a_free_outflow_takes_no_pressure_off() -> None:
    with pytest.raises(OutOfRange, match="outflow is free"):
        pulmonary_systolic_pressure(40.0, 1.0)


def test_a_jet_far_too_slow_for_the_cuff_gives_no_atrial_pressure() -> None:
    """3.2 m/s at 130 mmHg is a jet read 55 degrees off axis: 5.52 m/s * cos 55 = 3.2."""
    with pytest.raises(OutOfRange, match="too slow for this cuff"):
        left_atrial_pressure(130.0, 3.2)
    aligned = sqrt((130.0 - 8.0) / 4)
    assert left_atrial_pressure(130.0, aligned) == pytest.approx(8.0)


def test_a_jet_stronger_than_the_cuff_is_refused() -> None:
    with pytest.raises(OutOfRange, match="larger than the cuff"):
        pressure_beyond(100.0, 5.5)


@given(st.floats(0.5, 3.0), st.floats(0.5, 3.0))
def test_diastolic_pressure_is_below_mean_for_a_falling_jet(end: float, more: float) -> None:
    peak = end + more
    assert pulmonary_diastolic_pressure(end, 5.0) < pulmonary_mean_pressure(peak, 5.0)


def test_mean_lies_between_diastole_and_systole() -> None:
    """A mean pressure lies between a third and two thirds of systole at usual pressures."""
    for systolic in (25.0, 50.0, 100.0):
        assert systolic / 3 < mean_from_systolic_pressure(systolic) < systolic * 0.75


def test_resistance_rises_with_pressure_and_falls_with_flow() -> None:
    assert pulmonary_resistance(4.0, 15.0) > pulmonary_resistance(3.0, 15.0)
    assert pulmonary_resistance(4.0, 15.0) > pulmonary_resistance(4.0, 20.0)


def test_wall_stress_of_a_thin_shell_is_laplace() -> None:
    """P D / 4 h for a thin sphere; 1 mmHg is 1333 dyn/cm2, so 0.333 in 10^3 dyn/cm2."""
    thin = wall_stress(100.0, 10.0, 0.05)
    laplace = 100.0 * PASCAL_PER_MMHG * 10 / 1000 * 10.0 / (4 * 0.05)
    assert thin == pytest.approx(laplace, rel=0.01)


@given(st.floats(0.5, 2.0))
def test_shares_of_time_do_not_depend_on_the_sweep(scale: float) -> None:
    for share in (acceleration_share, systolic_time_ratio):
        assert share(50.0 * scale, 180.0 * scale) == pytest.approx(50 / 180)
    assert performance_index(240.0 * scale, 160.0 * scale) == pytest.approx(0.5)


def test_ejection_index_is_flat_along_its_own_regression() -> None:
    assert ejection_time_index(200.0, 100.0) == pytest.approx(
        ejection_time_index(200.0 - 0.55 * 40, 140.0)
    )


def test_velocity_of_shortening_over_its_time_is_the_shortening() -> None:
    assert shortening_velocity(0.36, 0.18) * 0.18 == pytest.approx(0.36)
    rate_corrected = rate_corrected_shortening_velocity(2.0, 120.0)
    assert rate_corrected == pytest.approx(2.0 * sqrt(0.5))


@given(st.floats(0.005, 0.19))
def test_pressure_rise_over_its_time_is_the_drop_between_1_and_3_m_s(rise_s: float) -> None:
    drop = simplified_bernoulli(3.0) - simplified_bernoulli(1.0)
    assert pressure_rise_rate(rise_s) * rise_s == pytest.approx(drop)
