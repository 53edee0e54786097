"""Made examinations for the tests of indices."""

from typing import Any

from tableside.model import (
    Beat,
    Exam,
    Image,
    Measurement,
    Mode,
    Patient,
    Species,
    Spread,
    Study,
    Visit,
    quantity,
)

DOG_10_KG = Patient(species=Species.DOG, weight_kg=10.0)


def measured(name: str, value: float, **labels: Any) -> Measurement:
    """A measurement with the shares of spread given: trace, calibration, beats and so on."""
    shares = labels.pop("shares", {"trace": 0.01, "calibration": 0.01, "beats": 0.01})
    file = labels.pop("file", "I1")
    defaults = {"method": "automatic", "scale": f"{file}#0"}
    return Measurement(
        quantity=name,
        value=value,
        unit=quantity(name).unit,
        spread=Spread(**{part: share * value for part, share in shares.items()}),
        beats=(Beat(file=file, frame=0, value=value),),
        **{**defaults, **labels},
    )


def exam_of(
    *measurements: Measurement,
    patient: Patient = DOG_10_KG,
    images: tuple[Image, ...] = (),
    visit: Visit | None = None,
) -> Exam:
    study = Study(patient=patient, images=images, visit=visit or Visit())
    return Exam(study=study, measurements=measurements)


def image_of(file: str, **labels: Any) -> Image:
    return Image(**{"file": file, "mode": Mode.SPECTRAL, "rows": 600, "columns": 800, **labels})
