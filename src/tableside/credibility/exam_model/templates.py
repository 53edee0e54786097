"""Template examinations for validation: which readings there are and how well each is read.

Each reading has the catalogue's variation between sweeps and readers, 1.5 percent of trace,
0.5 percent of scale and the variation between beats over five beats.
"""

from math import sqrt

from tableside.model import (
    Beat,
    Exam,
    Measurement,
    Patient,
    Species,
    Spread,
    Study,
    Visit,
    quantity,
)

TRACE, SCALE_SHARE, BEATS = 0.015, 0.005, 5
IMAGES = {
    "m-mode": ("LVIDd", "LVIDs", "IVSd", "LVPWd"),
    "m-mode walls": ("LVIDd", "LVIDs", "IVSd", "LVPWd", "IVSs", "LVPWs"),
    "heart base": ("LA", "Ao"),
    "long axis": ("LAD",),
    "inflow": ("E", "A"),
    "mitral jet": ("MR_Vmax",),
    "tricuspid jet": ("TR_Vmax",),
    "aorta": ("AV_Vmax", "AV_VTI", "ET"),
    "pulmonic": ("PV_Vmax", "AT"),
    "outflow": ("LVOTd",),
    "discs": ("EDV", "ESV"),
    "relaxation": ("IVRT",),
    "rate": ("HR",),
}
TEMPLATES = {
    "first look": ("m-mode", "heart base"),
    "mitral recheck": ("m-mode", "heart base", "mitral jet", "inflow"),
    "pulmonary": ("heart base", "tricuspid jet", "pulmonic", "rate"),
    "whole": (
        "m-mode walls", "heart base", "long axis", "inflow", "mitral jet", "tricuspid jet",
        "aorta", "outflow", "pulmonic", "relaxation", "rate",
    ),
    "volumes": ("m-mode", "discs", "aorta", "outflow", "heart base", "mitral jet", "rate"),
}  # fmt: skip


def template(name: str, weight_kg: float = 10.0, readings: int = 5) -> Exam:
    """Return one of the template exams; its values are placeholders."""
    found = [_measured(id_, image) for image in TEMPLATES[name] for id_ in IMAGES[image]]
    return Exam(
        study=Study(
            patient=Patient(species=Species.DOG, weight_kg=weight_kg),
            visit=Visit(systolic_pressure_mmHg=140.0, systolic_pressure_readings=readings),
        ),
        measurements=tuple(found),
    )


def _measured(id_: str, image: str) -> Measurement:
    entry = quantity(id_)
    variation, value = entry.variation, 1.0
    return Measurement(
        quantity=id_,
        value=value,
        unit=entry.unit,
        spread=Spread(
            trace=TRACE,
            calibration=SCALE_SHARE,
            beats=variation.beat / sqrt(BEATS),
            acquisition=variation.acquisition,
            reading=variation.reading,
        ),
        method="caliper",
        beats=(Beat(file=f"{image}.dcm", frame=0, value=value),),
        scale=f"{image}.dcm",
    )
