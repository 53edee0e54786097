"""Faults put into clean examinations: which are found, and which clean readings are doubted."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import cos, radians

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.fit import fit
from tableside.credibility.exam_model.observations import CUFF, WEIGHT
from tableside.credibility.exam_model.simulate import Simulated, World, read_as, simulate
from tableside.credibility.exam_model.templates import template
from tableside.model import Exam

Floats = NDArray[np.float64]
CLEAN = World(name="clean", has_faults=False, largest_angle_deg=20.0)
LEFT_VENTRICLE = ("LVIDd", "LVIDs", "IVSd", "LVPWd", "IVSs", "LVPWs")
POUNDS_A_KG = 2.2046
MATERIAL = 0.10  # an index moves by more than this, or a stage flips


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: whose it is, and what it does to the readings.

    ``angle_deg`` sets the beam angle of the reading; ``factors`` multiply readings, ``added``
    adds; ``is_swap`` exchanges the two readings of ``factors``; ``instead`` is a true quantity
    read in its place.
    """

    name: str
    reading: str
    group: str
    factors: Mapping[str, float] | None = None
    added: float = 0.0
    angle_deg: float | None = None
    is_swap: bool = False
    instead: str | None = None

    def applied(self, made: Simulated, values: Mapping[str, float]) -> dict[str, float]:
        """Return the readings with the fault in them."""
        found = dict(values)
        if self.angle_deg is not None:
            now = made.truth.get(f"angle:{self.reading}", 0.0)
            found[self.reading] *= cos(radians(self.angle_deg)) / cos(radians(now))
        if self.instead is not None:
            found[self.reading] = made.truth[self.instead]
        if self.is_swap:
            found["LVIDd"], found["LVIDs"] = values["LVIDs"], values["LVIDd"]
        for name, factor in (self.factors or {}).items():
            if name in found:
                found[name] *= factor
        found[self.reading] += self.added
        return found


def _whole(names: tuple[str, ...], factor: float) -> dict[str, float]:
    return dict.fromkeys(names, factor)


JETS = ("MR_Vmax", "AV_Vmax", "TR_Vmax")
FAULTS = (
    *(Fault(f"{jet} at {deg} degrees", jet, "angle", angle_deg=deg)
      for jet in JETS for deg in (40.0, 50.0, 60.0)),
    *(Fault(f"m-mode scale x {f:g}", "LVIDd", "scale", _whole(LEFT_VENTRICLE, f))
      for f in (0.5, 2.0)),
    *(Fault(f"heart base scale x {f:g}", "LA", "scale", _whole(("LA", "Ao"), f))
      for f in (0.5, 2.0)),
    *(Fault(f"mitral jet scale x {f:g}", "MR_Vmax", "scale", {"MR_Vmax": f})
      for f in (0.5, 2.0)),
    Fault("LVIDd and LVIDs swapped", "LVIDd", "swap", is_swap=True),
    Fault("tricuspid jet called mitral", "MR_Vmax", "wrong flow", instead="TR_Vmax"),
    Fault("weight in pounds", WEIGHT, "weight", {WEIGHT: POUNDS_A_KG}),
    *(Fault(f"cuff {mm:+g}", CUFF, "cuff", added=mm) for mm in (-40.0, 40.0, -70.0)),
    *(Fault(f"MR_Vmax incomplete x {f:g}", "MR_Vmax", "gain", {"MR_Vmax": f})
      for f in (0.8, 0.7, 0.5)),
    *(Fault(f"LVIDd x {f:g}", "LVIDd", "one length", {"LVIDd": f}) for f in (0.8, 0.6)),
    *(Fault(f"IVSd x {f:g}", "IVSd", "one length", {"IVSd": f}) for f in (1.5, 1.8)),
    *(Fault(f"LA x {f:g}", "LA", "one length", {"LA": f}) for f in (0.7, 1.25, 1.6)),
    *(Fault(f"Ao x {f:g}", "Ao", "one length", {"Ao": f}) for f in (0.75, 1.3)),
    *(Fault(f"AV_VTI x {f:g}", "AV_VTI", "integral", {"AV_VTI": f}) for f in (0.6, 1.8)),
    Fault("LA a digit too many", "LA", "copy", {"LA": 10.0}),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Injection:
    """Probabilities that readings are unusable: with a fault, and clean."""

    template: str
    found: Mapping[str, Floats]  # by fault, of the reading at fault
    is_material: Mapping[str, NDArray[np.bool_]]
    clean: Mapping[str, Floats]  # by reading

    def sensitivity(self, fault: str, threshold: float) -> float:
        """Return the share of material faults of this name that a threshold finds."""
        chosen = self.found[fault][self.is_material[fault]]
        return float((chosen >= threshold).mean()) if len(chosen) else float("nan")

    def sensitivity_at(self, fault: str, reading: str, alarms: float) -> float:
        """Return the share found by the threshold that doubts so many clean readings."""
        return self.sensitivity(fault, float(np.quantile(self.clean[reading], 1 - alarms)))

    def false_alarms(self, reading: str, threshold: float) -> float:
        """Return the share of clean exams in which this reading is doubted."""
        return float((self.clean[reading] >= threshold).mean())


def inject(name: str, simulations: int, seed: int, faults_each: int = 6) -> Injection:
    """Fit clean exams of a template, and each again with some faults in turn."""
    rng = np.random.default_rng(seed)
    found: dict[str, list[float]] = {}
    material: dict[str, list[bool]] = {}
    clean: dict[str, list[float]] = {}
    nth = 0
    for _ in range(simulations):
        made = simulate(template(name), CLEAN, rng)
        values = readings(made.exam)
        for reading, fault in fit(made.exam).faults.items():
            clean.setdefault(reading, []).append(fault.unusable)
        possible = [one for one in FAULTS if one.reading in values]
        for _ in range(faults_each):
            fault_ = possible[nth % len(possible)]
            nth += 1
            wrong = fault_.applied(made, values)
            believed = fit(read_as(made.exam, wrong)).faults[fault_.reading]
            found.setdefault(fault_.name, []).append(believed.unusable)
            material.setdefault(fault_.name, []).append(_is_material(values, wrong))
    return Injection(
        name,
        {key: np.array(each) for key, each in found.items()},
        {key: np.array(each) for key, each in material.items()},
        {key: np.array(each) for key, each in clean.items()},
    )


def readings(exam: Exam) -> dict[str, float]:
    """Return the readings of an exam by name, with the weight and the cuff."""
    found = {one.quantity: one.value for one in exam.measurements}
    if exam.patient.weight_kg is not None:
        found[WEIGHT] = exam.patient.weight_kg
    if exam.visit.systolic_pressure_mmHg is not None:
        found[CUFF] = exam.visit.systolic_pressure_mmHg
    return found


def _is_material(before: Mapping[str, float], after: Mapping[str, float]) -> bool:
    one, other = _indices(before), _indices(after)
    moved = any(abs(other[name] / one[name] - 1) > MATERIAL for name in one)
    return moved or _is_b2(one) != _is_b2(other)


def _indices(values: Mapping[str, float]) -> dict[str, float]:
    made = dict(values)
    if "LA" in values and "Ao" in values:
        made["LA:Ao"] = values["LA"] / values["Ao"]
    if "LVIDd" in values:
        made["LVIDDN"] = values["LVIDd"] / values[WEIGHT] ** 0.294
    return made


def _is_b2(indices: Mapping[str, float]) -> bool:
    return indices.get("LA:Ao", 0.0) >= 1.6 and indices.get("LVIDDN", 0.0) >= 1.7
