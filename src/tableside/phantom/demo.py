"""The demo study: an invented dog with moderate mitral valve disease at an invented clinic.

One mitral jet was crossed at a wide angle: it is displayed at about 3.2 m/s although the
pressures want about 5.7. That is the doubt which the demo is there to show.
"""

import datetime as dt
from math import acos, degrees

from tableside.model import Patient, Sex, Species, Visit
from tableside.phantom.study_spec import JetSpec, StudySpec

SEED = 20260512
SYSTOLIC_MMHG = 145.0
ATRIAL_MMHG = 15.0
JET_TRUE_M_S = round(((SYSTOLIC_MMHG - ATRIAL_MMHG) / 4) ** 0.5, 2)  # Bernoulli: 5.70
JET_SHOWN_M_S = 3.2
WEIGHT_KG = 9.6
LVIDDN = 1.88  # LVIDd / kg^0.294
NORMAL_CAVITY_CM = 1.38 * WEIGHT_KG**0.322


def demo_spec() -> StudySpec:
    """Return what the demo study is made from."""
    return StudySpec(
        patient=Patient(
            id="Q-2217",
            name="Thistle",
            species=Species.DOG,
            breed="Cavalier King Charles Spaniel",
            sex=Sex.FEMALE_NEUTERED,
            birth_date=dt.date(2017, 4, 18),
            owner="Mara Alderquist",
        ),
        visit=Visit(
            date=dt.date(2026, 5, 12),
            murmur_grade=4,
            systolic_pressure_mmHg=SYSTOLIC_MMHG,
            systolic_pressure_readings=5,
            sedation="none",
            vertebral_heart_score=11.2,
            signs=("occasional cough",),
            ascites=False,
        ),
        weight_kg=WEIGHT_KG,
        clinic="Quillmere Animal Clinic",
        heart_rate=118.0,
        fractional_shortening=0.44,
        enlargement=LVIDDN * WEIGHT_KG**0.294 / NORMAL_CAVITY_CM,
        epss_cm=0.22,
        left_atrium_to_aorta=1.98,
        flows={
            "mitral inflow": JetSpec(peaks_m_s=(1.08, 0.74)),
            "mitral regurgitation": JetSpec(
                peaks_m_s=(JET_TRUE_M_S,),
                angle_deg=degrees(acos(JET_SHOWN_M_S / JET_TRUE_M_S)),
            ),
            "mitral annulus septal": JetSpec(peaks_m_s=(0.115, 0.095, 0.085)),
            "aortic outflow": JetSpec(peaks_m_s=(1.18,)),
            "tricuspid regurgitation": JetSpec(peaks_m_s=(2.6,)),
            "pulmonic outflow": JetSpec(peaks_m_s=(0.92,)),
        },
    )
