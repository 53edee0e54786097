"""Exams built by hand: one line a number."""

from collections.abc import Mapping
from typing import Any

from tableside.model import (
    Beat,
    Exam,
    Image,
    Index,
    Measurement,
    Patient,
    Species,
    Spread,
    Study,
    Visit,
    quantities,
)

SHARE = 0.03
LEFT_VENTRICLE = {"LVIDd", "LVIDs", "IVSd", "IVSs", "LVPWd", "LVPWs"}


def measured(
    quantity: str, value: float, *, file: str | None = None, share: float = SHARE, **labels: Any
) -> Measurement:
    """One measurement, with the catalogue's variation between sweeps and readers."""
    entry = quantities()[quantity]
    spread = Spread(
        trace=share * value,
        acquisition=entry.variation.acquisition * value,
        reading=entry.variation.reading * value,
    )
    beat = Beat(file=file or f"{quantity}.dcm", frame=0, value=value, sd=share * value)
    return Measurement(
        quantity=quantity,
        value=value,
        unit=entry.unit,
        spread=spread,
        method="caliper",
        beats=(beat,),
        **labels,
    )


def index(name: str, value: float, *, share: float = 0.06, **labels: Any) -> Index:
    """One index; ``share`` is all of its doubt."""
    labels = {"unit": "1", "formula": "by hand", "inputs": (), "sources": (), **labels}
    sd = share * abs(value)
    return Index(name=name, value=value, sd=sd / 2, sd_total=sd, **labels)


def exam(
    sizes: Mapping[str, float] | None = None,
    indices: Mapping[str, float] | None = None,
    *,
    share: float = SHARE,
    extra: tuple[Measurement, ...] = (),
    images: tuple[Image, ...] = (),
    patient: Mapping[str, Any] | None = None,
    **visit: Any,
) -> Exam:
    """An exam of numbers, of a dog of 18.4 kg; left ventricular sizes share one image."""
    ones = tuple(
        measured(name, value, share=share, file="lv.dcm" if name in LEFT_VENTRICLE else None)
        for name, value in (sizes or {}).items()
    )
    who = {"species": Species.DOG, "weight_kg": 18.4, **(patient or {})}
    return Exam(
        study=Study(patient=Patient(**who), visit=Visit(**visit), images=images),
        measurements=ones + extra,
        indices=tuple(index(name, value) for name, value in (indices or {}).items()),
    )
