"""What a made study is asked to hold."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from tableside.model import Patient, Sex, Species, Visit


@dataclass(frozen=True, slots=True, kw_only=True)
class JetSpec:
    """One spectral tracing of the study: the true peaks and how the beam met the flow."""

    peaks_m_s: tuple[float, ...]
    angle_deg: float = 0.0


def _usual_flows() -> dict[str, JetSpec]:
    return {
        "mitral inflow": JetSpec(peaks_m_s=(0.80, 0.60)),
        "mitral regurgitation": JetSpec(peaks_m_s=(5.5,)),
        "mitral annulus septal": JetSpec(peaks_m_s=(0.10, 0.085, 0.07)),
        "aortic outflow": JetSpec(peaks_m_s=(1.25,)),
        "tricuspid regurgitation": JetSpec(peaks_m_s=(2.4,)),
        "pulmonic outflow": JetSpec(peaks_m_s=(0.95,)),
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class StudySpec:
    """The animal, the visit, the heart and the machine of a made study.

    ``caliper_sd_px`` is how far, on each axis, a person's caliper lies from the true point.
    ``flows`` holds the tracings to make, in order.
    """

    patient: Patient = field(
        default_factory=lambda: Patient(
            id="P-0001", name="Pebble", species=Species.DOG, sex=Sex.FEMALE_NEUTERED,
            breed="mixed breed", birth_date=dt.date(2019, 3, 8),
            owner="Ona Fernlight",
        )
    )  # fmt: skip
    visit: Visit = field(default_factory=lambda: Visit(date=dt.date(2026, 3, 14)))
    weight_kg: float = 10.0
    clinic: str = "Quillmere Animal Clinic"
    heart_rate: float = 108.0
    rhythm: str = "sinus"
    fractional_shortening: float = 0.36
    enlargement: float = 1.0
    wall: float = 1.0
    epss_cm: float | None = None
    left_atrium_to_aorta: float = 1.25
    flows: Mapping[str, JetSpec] = field(default_factory=_usual_flows)
    gain_db: float = 0.0
    snr_db: float = 28.0
    dropout: float = 0.03
    chorda: bool = True
    caliper_sd_px: float = 0.7
    clip_frames: int = 20
    coding: str = "jpeg"

    @property
    def dog(self) -> Patient:
        """The patient with the weight that every size follows from."""
        return replace(self.patient, weight_kg=self.weight_kg)
