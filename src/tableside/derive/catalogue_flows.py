"""Indices of speeds, pressures, flow and times: formula, unit, inputs, sources."""

from tableside.derive.doppler import (
    early_peak_over_relaxation,
    peak_ratio,
    pressure_half_time,
    simplified_bernoulli,
)
from tableside.derive.flow import cardiac_index, cardiac_output, stroke_volume
from tableside.derive.formula import Formula
from tableside.derive.leak import regurgitant_fraction, regurgitant_volume
from tableside.derive.pressures import (
    left_atrial_pressure,
    mean_from_systolic_pressure,
    pulmonary_diastolic_pressure,
    pulmonary_mean_pressure,
    pulmonary_resistance,
    pulmonary_systolic_pressure,
    right_ventricular_pressure,
    wall_stress,
)
from tableside.derive.timing import (
    acceleration_share,
    ejection_time_index,
    pressure_rise_rate,
    rate_corrected_shortening_velocity,
    shortening_velocity,
    systolic_time_ratio,
)
from tableside.derive.volumes import volume_by_surface
from tableside.model import Species

PEOPLE = "the formula was fitted to people"
FREE_OUTFLOW = "if nothing narrows the outflow"


def _gradient(gives: str, jet: str) -> Formula:
    return Formula(
        function=simplified_bernoulli,
        gives=gives,
        unit="mm[Hg]",
        takes={"jet_m_s": jet},
        sources=("hatle",),
        assumes=("if flow before the orifice is slow", "if the beam runs along the jet"),
    )


DOPPLER = (
    _gradient("MR_PG", "MR_Vmax"),
    _gradient("TR_PG", "TR_Vmax"),
    _gradient("AV_PG", "AV_Vmax"),
    _gradient("PV_PG", "PV_Vmax"),
    _gradient("AR_PG", "AR_Vmax"),
    _gradient("PR_PG", "PR_Vmax"),
    _gradient("PR_PGend", "PR_Vend"),
    Formula(
        function=peak_ratio,
        gives="E:A",
        unit="1",
        takes={"early_m_s": "E", "other_m_s": "A"},
        sources=("schober2001flow",),
        together=True,
    ),
    Formula(
        function=peak_ratio,
        gives="E:E'",
        unit="1",
        takes={"early_m_s": "E", "other_m_s": "E'"},
        sources=("choi2013",),
        assumes=("annular speed by pulsed wave",),
    ),
    Formula(
        function=peak_ratio,
        gives="E':A'",
        unit="1",
        takes={"early_m_s": "E'", "other_m_s": "A'"},
        sources=("choi2013",),
        assumes=("annular speed by pulsed wave",),
        together=True,
    ),
    Formula(
        function=early_peak_over_relaxation,
        gives="E:IVRT",
        unit="{(cm/s)/ms}",
        takes={"early_cm_s": "E", "ivrt_ms": "IVRT"},
        sources=("schober2010",),
    ),
    Formula(
        function=pressure_half_time,
        gives="MV_PHT",
        unit="ms",
        takes={"deceleration_ms": "DT"},
        sources=("hatle",),
    ),
)

PRESSURES = (
    Formula(
        function=right_ventricular_pressure,
        gives="RVSP",
        unit="mm[Hg]",
        takes={"tricuspid_m_s": "TR_Vmax", "atrium_mmHg": "right atrial pressure"},
        sources=("csaim",),
        assumes=("if the beam runs along the jet",),
    ),
    Formula(
        function=pulmonary_systolic_pressure,
        gives="PASP",
        unit="mm[Hg]",
        takes={"ventricle_mmHg": "RVSP", "outflow_m_s": "PV_Vmax"},
        sources=("expertvet",),
        assumes=("the outflow is narrowed: its drop is taken off",),
    ),
    Formula(
        function=pulmonary_diastolic_pressure,
        gives="PADP",
        unit="mm[Hg]",
        takes={"end_m_s": "PR_Vend", "ventricle_mmHg": "right atrial pressure"},
        sources=("nelsoncouto6",),
    ),
    Formula(
        function=pulmonary_mean_pressure,
        gives="PAMP",
        unit="mm[Hg]",
        takes={"peak_m_s": "PR_Vmax", "atrium_mmHg": "right atrial pressure"},
        sources=("nelsoncouto6",),
    ),
    Formula(
        function=mean_from_systolic_pressure,
        gives="PAMP_TR",
        unit="mm[Hg]",
        takes={"systolic_mmHg": "RVSP"},
        sources=("chemla2004",),
        assumes=(PEOPLE, FREE_OUTFLOW),
    ),
    Formula(
        function=pulmonary_resistance,
        gives="PVR",
        unit="{WU}",
        takes={"tricuspid_m_s": "TR_Vmax", "outflow_vti_cm": "PV_VTI"},
        sources=("abbas2003",),
        assumes=(PEOPLE,),
    ),
    Formula(
        function=left_atrial_pressure,
        gives="LAP_MR",
        unit="mm[Hg]",
        takes={"systolic_mmHg": "systolic pressure", "jet_m_s": "MR_Vmax"},
        sources=("kittlesoncases",),
        assumes=(FREE_OUTFLOW, "a jet read off its axis makes it look high"),
    ),
    Formula(
        function=wall_stress,
        gives="wall_stress",
        unit="{10^3 dyn/cm2}",
        takes={
            "systolic_mmHg": "systolic pressure",
            "diameter_cm": "LVIDs",
            "wall_cm": "LVPWs",
        },
        sources=("grossman1975",),
        assumes=(FREE_OUTFLOW,),
        together=True,
    ),
)


def _stroke(diameter: str, assumes: str) -> Formula:
    return Formula(
        function=stroke_volume,
        gives="SV",
        unit="mL",
        takes={"diameter_cm": diameter, "vti_cm": "AV_VTI"},
        sources=("brown1991",),
        assumes=(assumes, FREE_OUTFLOW),
    )


FLOW = (
    _stroke("LVOTd", "diameter of the outflow tract"),
    _stroke("AoAnn", "diameter of the aortic annulus"),
    Formula(
        function=cardiac_output,
        gives="CO",
        unit="L/min",
        takes={"stroke_mL": "SV", "rate_per_min": "HR"},
        sources=("brown1991",),
    ),
    Formula(
        function=volume_by_surface,
        gives="SVI",
        unit="mL/m2",
        takes={"volume_mL": "SV", "bsa_m2": "BSA"},
        sources=("brown1991",),
    ),
    Formula(
        function=cardiac_index,
        gives="CI",
        unit="L/min/m2",
        takes={"output_L_min": "CO", "bsa_m2": "BSA"},
        sources=("brown1991",),
    ),
    Formula(
        function=regurgitant_volume,
        gives="MR_RVol",
        unit="mL",
        takes={"edv_mL": "EDV", "esv_mL": "ESV", "forward_mL": "SV"},
        sources=("acvim2023mr",),
        assumes=(
            "by difference of volumes",
            "if the aortic valve does not leak and there is no shunt",
        ),
    ),
    Formula(
        function=regurgitant_fraction,
        gives="MR_RF",
        unit="%",
        takes={"regurgitant_mL": "MR_RVol", "forward_mL": "SV"},
        sources=("acvim2023mr",),
        assumes=(
            "by difference of volumes",
            "if the aortic valve does not leak and there is no shunt",
        ),
    ),
)

TIMING = (
    Formula(
        function=acceleration_share,
        gives="AT:ET",
        unit="1",
        takes={
            "acceleration_ms": "AT @ pulmonic outflow",
            "ejection_ms": "ET @ pulmonic outflow",
        },
        sources=("visser2016", "schober2006"),
        together=True,
    ),
    Formula(
        function=systolic_time_ratio,
        gives="PEP:ET",
        unit="1",
        takes={
            "preejection_ms": "PEP @ aortic outflow",
            "ejection_ms": "ET @ aortic outflow",
        },
        sources=("atkins1992",),
        together=True,
    ),
    Formula(
        function=ejection_time_index,
        gives="LVETI",
        unit="ms",
        takes={"ejection_ms": "ET @ aortic outflow", "rate_per_min": "HR"},
        sources=("atkins1992",),
        species=Species.DOG,
    ),
    Formula(
        function=shortening_velocity,
        gives="Vcf",
        unit="{circ/s}",
        takes={"shortening": "FS", "ejection_s": "ET @ aortic outflow"},
        sources=("atkins1992",),
    ),
    Formula(
        function=rate_corrected_shortening_velocity,
        gives="Vcf_c",
        unit="{circ/s}",
        takes={"velocity_per_s": "Vcf", "rate_per_min": "HR"},
        sources=("atkins1992",),
    ),
    Formula(
        function=pressure_rise_rate,
        gives="dP/dt",
        unit="mm[Hg]/s",
        takes={"rise_s": "MR_dt"},
        sources=("bargiggia1989",),
    ),
)
