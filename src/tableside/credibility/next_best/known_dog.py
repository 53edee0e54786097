"""A dog whose heart is known, examined by repeats whose errors have known origins.

Every sweep and every window has errors of its own, fixed by the dog and its place in the order:
two ways of examining the same dog meet the same second sweep. The reader's error stays.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import cos, exp, hypot, log, radians, sqrt
from statistics import fmean

import numpy as np

from tableside.credibility.exam_model.heart import COLUMNS, heart
from tableside.credibility.exam_model.settings import FitOptions
from tableside.credibility.exam_model.visit import visit_constants
from tableside.credibility.next_best.losses import Repeat
from tableside.model import (
    Beat,
    Exam,
    Measurement,
    Patient,
    Species,
    Spread,
    Study,
    Visit,
    quantities,
)

BEATS = 3
TRACE, CALIBRATION = 0.02, 0.005
JETS = ("MR_Vmax", "TR_Vmax")
TOGETHER = {"LVIDd": ("LVIDd", "LVIDs"), "LA": ("LA", "Ao")}
ALL = ("LVIDd", "LVIDs", "LA", "Ao", "LAD", "MR_Vmax", "TR_Vmax")
CUFF_FLOOR_MMHG, CUFF_READING_MMHG = 10.0, 19.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Errors:
    """How true readings err; the default is what the model believes.

    ``freedom`` of Student's t (None: normal), ``wider`` multiplies beat and acquisition,
    ``faulty`` is the share of sweeps on a wrong structure.
    """

    freedom: float | None = None
    wider: float = 1.0
    faulty: float = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownDog:
    """True quantities, weight included, and the seed of its readings."""

    truth: Mapping[str, float]
    seed: tuple[int, ...]
    errors: Errors

    def _rng(self, quantity: str, sweep: int) -> np.random.Generator:
        return np.random.default_rng([*self.seed, ALL.index(quantity), sweep])

    def off(self, quantity: str, sweep: int, beats: int) -> float:
        """Return the log error of one sweep averaged over its beats, the reader's included."""
        variation = quantities()[quantity].variation
        reader = self._rng(quantity, 999).standard_normal() * variation.reading
        return reader + self._sweep(quantity, sweep) + self._beats(quantity, sweep, beats)

    def _sweep(self, quantity: str, sweep: int) -> float:
        rng = self._rng(quantity, sweep)
        if quantity in JETS:
            t = abs(float(rng.standard_normal()))
            return log(cos(radians(min(12 * t + 2 * t**3, 80.0))))
        spread = quantities()[quantity].variation.acquisition * self.errors.wider
        structure = rng.uniform() < self.errors.faulty
        wrong = 0.35 * float(rng.standard_normal()) if structure else 0.0
        return self._drawn(rng) * spread + wrong

    def _beats(self, quantity: str, sweep: int, beats: int) -> float:
        rng = self._rng(quantity, 100 + sweep)
        spread = quantities()[quantity].variation.beat * self.errors.wider
        each = hypot(spread, TRACE)
        return fmean(self._drawn(rng) * each for _ in range(beats))

    def _drawn(self, rng: np.random.Generator) -> float:
        if self.errors.freedom is None:
            return float(rng.standard_normal())
        nu = self.errors.freedom
        return float(rng.standard_t(nu)) * sqrt((nu - 2) / nu)

    def cuff_mmHg(self, readings: int) -> float:
        """Return the mean of some cuff readings."""
        rng = np.random.default_rng([*self.seed, 77])
        floor = CUFF_FLOOR_MMHG * rng.standard_normal()
        noise = CUFF_READING_MMHG * rng.standard_normal(readings).mean()
        return float(max(40.0, self.truth["SBP"] + floor + noise))


def known_dogs(count: int, seed: int, *, misspecified: bool) -> tuple[KnownDog, ...]:
    """Draw dogs with a loud murmur and a large heart on the radiograph.

    Misspecified: larger ventricles and smaller aortas than the model believes (a breed), errors
    with heavier tails and a quarter larger.
    """
    rng = np.random.default_rng([seed, 4])
    p = dict(
        visit_constants(Exam(study=Study(patient=Patient(species=Species.DOG))), FitOptions())
    )
    p["RF.logit"] += 1.2  # dogs with a loud murmur leak more than the model's prior
    errors = Errors()
    if misspecified:
        p["LVIDd.centre_cm"] *= 1.05
        p["Ao.centre_cm"] *= 0.96
        errors = Errors(freedom=5.0, wider=1.25, faulty=0.04)
    columns = rng.standard_normal((count, len(COLUMNS)))
    columns[:, 0] *= 0.5  # 5 to 20 kg
    state = heart(columns, p)
    wanted = (*ALL, "SBP", "weight", "LVIDDN", "LA:Ao")
    return tuple(
        KnownDog(
            truth={name: float(state[name][at]) for name in wanted},
            seed=(seed, at),
            errors=errors,
        )
        for at in range(count)
    )


@dataclass(slots=True)
class Table:
    """What was done with one dog so far: beats of every sweep, and the seconds it took."""

    dog: KnownDog
    sweeps: dict[str, list[int]] = field(default_factory=dict)
    cuff_readings: int = 2
    seconds: int = 0

    def do(self, repeat: Repeat, seconds: int) -> None:
        """Carry out a repeat."""
        self.seconds += seconds
        if repeat.how == "cuff series":
            self.cuff_readings = 5
            return
        first = repeat.readings[0]
        key = "LA" if first == "LA:Ao" else first
        done = self.sweeps.setdefault(key, [])
        if repeat.how == "same sweep":
            done[-1] += BEATS
        else:
            done.append(BEATS)

    def exam(self) -> Exam:
        """Return the examination as it stands."""
        return Exam(
            study=Study(
                patient=Patient(species=Species.DOG, weight_kg=self.dog.truth["weight"]),
                visit=Visit(
                    murmur_grade=4,
                    vertebral_heart_score=11.5,
                    systolic_pressure_mmHg=self.dog.cuff_mmHg(self.cuff_readings),
                    systolic_pressure_readings=self.cuff_readings,
                ),
            ),
            measurements=tuple(
                self._measured(quantity, key, beats)
                for key, beats in self.sweeps.items()
                for quantity in TOGETHER.get(key, (key,))
            ),
        )

    def _measured(self, quantity: str, key: str, beats: list[int]) -> Measurement:
        truth = log(self.dog.truth[quantity])
        each = [truth + self.dog.off(quantity, at, n) for at, n in enumerate(beats)]
        used = [max(each)] if quantity in JETS else each
        value, k, n = exp(fmean(used)), len(used), sum(beats)
        entry = quantities()[quantity]
        return Measurement(
            quantity=quantity,
            value=value,
            unit=entry.unit,
            spread=Spread(
                trace=TRACE / sqrt(k) * value,
                calibration=CALIBRATION * value,
                beats=entry.variation.beat / sqrt(BEATS if quantity in JETS else n) * value,
                acquisition=entry.variation.acquisition / sqrt(k) * value,
                reading=entry.variation.reading * value,
            ),
            method="caliper",
            beats=tuple(
                Beat(file=f"{key}-{at}", frame=0, value=exp(one)) for at, one in enumerate(each)
            ),
        )
