"""All laws over one examination, worst first."""

from tableside.credibility.law import Law
from tableside.credibility.laws import (
    atrium_against_inflow,
    atrium_short_against_long_axis,
    atrium_two_d_against_m_mode,
    calibration_against_aorta,
    ejection_time_against_rate,
    ejection_times_of_both_valves,
    heart_rate_across_images,
    heart_rate_against_printed,
    jet_identity,
    joint_allometry,
    mitral_jet_against_pressure,
    nyquist,
    pressure_rise_against_shortening,
    pulmonary_pressures_order,
    pulmonic_against_aortic_flow,
    regurgitation_against_size,
    septum_against_free_wall,
    shortening_against_epss,
    stroke_volume_against_outflow,
    systole_below_diastole,
    tricuspid_jet_across_windows,
    tricuspid_jet_against_pressure,
    tricuspid_jet_against_pulmonary_artery,
    wall_area_conservation,
    weight_unit,
)
from tableside.model import Check, Exam, Verdict

LAWS: tuple[Law, ...] = tuple(
    module.LAW
    for module in (
        mitral_jet_against_pressure,
        jet_identity,
        tricuspid_jet_across_windows,
        tricuspid_jet_against_pressure,
        tricuspid_jet_against_pulmonary_artery,
        pulmonary_pressures_order,
        stroke_volume_against_outflow,
        regurgitation_against_size,
        pulmonic_against_aortic_flow,
        heart_rate_across_images,
        heart_rate_against_printed,
        septum_against_free_wall,
        systole_below_diastole,
        shortening_against_epss,
        wall_area_conservation,
        atrium_short_against_long_axis,
        atrium_two_d_against_m_mode,
        atrium_against_inflow,
        ejection_time_against_rate,
        ejection_times_of_both_valves,
        pressure_rise_against_shortening,
        calibration_against_aorta,
        joint_allometry,
        weight_unit,
        nyquist,
    )
)
SEVERITY = {
    Verdict.FAILS: 0,
    Verdict.DOUBTFUL: 1,
    Verdict.HOLDS: 2,
    Verdict.NOT_ASSESSED: 3,
}


def checks(exam: Exam) -> tuple[Check, ...]:
    """Apply every law to an examination.

    Returns
    -------
    tuple of Check
        Worst first: failed, doubtful, holding, not assessed; the likelier to be unusable
        first within each. A law that concerns nothing recorded is left out.
    """
    found = [check for law in LAWS if (check := law.applied(exam)) is not None]
    return tuple(sorted(found, key=_worst_first))


def _worst_first(check: Check) -> tuple[int, float, str]:
    return SEVERITY[check.verdict], -(check.probability_unusable or 0.0), check.id
