"""Examinations with known truth: drawn from the model's own world, or from one unlike it.

A template exam says which readings there are and how well each is read; its values are
replaced by readings of a heart drawn from the prior. For validation alone.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import cos, exp, hypot, log, radians

import numpy as np
from numpy.typing import NDArray

from tableside.credibility.exam_model.heart import COLUMNS, heart
from tableside.credibility.exam_model.observations import (
    CUFF,
    PHASE_PAIRS,
    WEIGHT,
    Observation,
    observe,
)
from tableside.credibility.exam_model.problem import SCALE, SWAPPED, Problem
from tableside.credibility.exam_model.settings import Constants, FaultKind, FitOptions
from tableside.credibility.exam_model.tables import OFF_AXIS, Table, table
from tableside.credibility.exam_model.visit import visit_constants
from tableside.model import Exam, Measurement, Spread

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """How hearts and readings are made. The default is the model's own world.

    ``scaled`` multiplies constants of the heart; ``freedom`` makes the errors of readings
    Student-t with that freedom; ``noisier`` multiplies the errors of some quantities;
    ``has_faults`` lets readings go wrong at their usual shares; ``largest_angle_deg`` keeps
    every beam below an angle.
    """

    name: str = "own"
    scaled: Mapping[str, float] = field(default_factory=dict)
    freedom: float | None = None
    noisier: Mapping[str, float] = field(default_factory=dict)
    has_faults: bool = True
    largest_angle_deg: float = 90.0


FLOWS = ("E", "A", "AV_Vmax", "AV_VTI", "PV_Vmax", "PV_VTI", "MR_Vmax", "TR_Vmax", "HR", "ET")
WORLDS = (
    World(name="own"),
    World(name="heavier tails", freedom=5.0),
    World(
        name="breed shift",
        scaled={
            "LVIDd.centre_cm": 1.10,
            "wall.IVSd.centre_cm": 1.10,
            "wall.LVPWd.centre_cm": 1.10,
            "Ao.centre_cm": 0.93,
            "LA:Ao.centre": 1.08,
        },
    ),
    World(name="Teichholz bias", scaled={"volume.factor": 1.2}),
    World(
        name="irregular rhythm",
        noisier={**dict.fromkeys(FLOWS, 1.6), "LVIDd": 1.3, "LVIDs": 1.3, "LA": 1.3},
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulated:
    """An exam and what was true: quantities by name, what went wrong with which reading."""

    exam: Exam
    truth: Mapping[str, float]
    wrong: Mapping[str, str]
    columns: Floats


def simulate(template: Exam, world: World, rng: np.random.Generator) -> Simulated:
    """Draw a heart and read it as the template says."""
    p = visit_constants(template, FitOptions())
    observations, _ = observe(template, p)
    tables = tuple(table(one, p, True) for one in observations)
    problem = Problem(observations, tables, p, True)
    z = rng.standard_normal((1, len(COLUMNS)))
    made = {name: value * world.scaled.get(name, 1.0) for name, value in p.items()}
    state = heart(z, made)
    truth = {name: float(values[0]) for name, values in state.items()}
    off, wrong = _errors(problem, world, rng, truth)
    sweep = rng.standard_normal(len(problem.sweeps))
    values = {}
    for at, one in enumerate(observations):
        given = truth[one.kind.truth]
        expected = given if one.is_linear else log(given) / one.kind.power
        if one.shared > 0:
            expected += one.shared * sweep[problem.sweeps.index(one.sweep)]
        total = expected + off[at]
        values[one.name] = total if one.is_linear else exp(total * one.kind.power)
    _move_blocks(problem, world, rng, (values, wrong))
    return Simulated(exam=read_as(template, values), truth=truth, wrong=wrong, columns=z[0])


def read_as(exam: Exam, values: Mapping[str, float]) -> Exam:
    """Return the exam with other readings, each with the same share of doubt."""
    taken: dict[str, int] = {}
    measured = []
    for one in exam.measurements:
        taken[one.quantity] = nth = taken.get(one.quantity, 0) + 1
        name = one.quantity if nth == 1 else f"{one.quantity} ({nth})"
        measured.append(_rescaled(one, values.get(name, one.value)))
    patient, visit = exam.patient, exam.visit
    if WEIGHT in values:
        patient = replace(patient, weight_kg=values[WEIGHT])
    if CUFF in values:
        visit = replace(visit, systolic_pressure_mmHg=max(values[CUFF], 20.0))
    study = replace(exam.study, patient=patient, visit=visit)
    return Exam(study=study, measurements=tuple(measured), indices=exam.indices)


def _rescaled(one: Measurement, value: float) -> Measurement:
    factor = value / one.value
    parts = ("trace", "calibration", "beats", "acquisition", "reading")
    spread = Spread(**{part: getattr(one.spread, part) * factor for part in parts})
    return replace(one, value=value, spread=spread)


def _errors(
    problem: Problem, world: World, rng: np.random.Generator, truth: dict[str, float]
) -> tuple[Floats, dict[str, str]]:
    off = np.zeros(len(problem.observations))
    wrong: dict[str, str] = {}
    for at, (one, made) in enumerate(zip(problem.observations, problem.tables, strict=True)):
        kind = _kind_of_error(made, world, rng)
        angle_deg = _angle(problem.p, world, rng) if one.kind.has_angle else 0.0
        if kind == 0:
            off[at] = _noise(one, world, rng) + log(cos(radians(angle_deg)))
            truth[f"angle:{one.name}"] = angle_deg
            if angle_deg > problem.p["angle.usable_deg"]:
                wrong[one.name] = OFF_AXIS
        else:
            off[at] = _wrong(one, made.faults[kind - 1], rng)
            wrong[one.name] = made.kinds[kind + 1]
    return off, wrong


def _kind_of_error(made: Table, world: World, rng: np.random.Generator) -> int:
    if not world.has_faults:
        return 0
    shares = np.array([kind.share for kind in made.faults])
    return int(np.searchsorted(np.cumsum([1 - shares.sum(), *shares]), rng.random()))


def _noise(one: Observation, world: World, rng: np.random.Generator) -> float:
    sd = one.sd * world.noisier.get(one.quantity, 1.0)
    if world.freedom is None:
        return float(sd * rng.standard_normal())
    return float(sd * rng.standard_t(world.freedom))


def _angle(p: Constants, world: World, rng: np.random.Generator) -> float:
    largest = min(world.largest_angle_deg, p["angle.largest_deg"])
    while True:
        t = abs(float(rng.standard_normal()))
        degrees = p["angle.slope_deg"] * t + p["angle.cube_deg"] * t**3
        if degrees < largest:
            return degrees


def _wrong(one: Observation, fault: FaultKind, rng: np.random.Generator) -> float:
    if fault.is_low:
        return float(-abs(rng.normal(0, fault.sd)) + rng.normal(0, one.sd))
    return float(fault.off + rng.normal(0, hypot(fault.sd, one.sd)))


def _move_blocks(
    problem: Problem,
    world: World,
    rng: np.random.Generator,
    made: tuple[dict[str, float], dict[str, str]],
) -> None:
    """Let the scale of a whole image slip, or the phases of a ventricle be swapped."""
    values, wrong = made
    for block in problem.blocks if world.has_faults else ():
        which = int(np.searchsorted(np.cumsum(block.shares), rng.random()))
        names = [problem.observations[at].name for at in block.members]
        powers = [problem.observations[at].kind.power for at in block.members]
        if 0 < which < len(block.kinds) and block.kinds[which] == SCALE:
            for name, power, moved in zip(names, powers, block.moved[which], strict=True):
                values[name] *= exp(-moved * power)
                wrong[name] = SCALE
        elif 0 < which < len(block.kinds):
            one, other = PHASE_PAIRS[0]
            values[one], values[other] = values[other], values[one]
            wrong[one] = wrong[other] = SWAPPED
