"""Which quantity is measured where, with how many points, and how they are read."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache

from tableside.errors import NotMeasurable
from tableside.measure.caliper_regions import Needs
from tableside.measure.caliper_values import (
    CaliperOptions,
    CaliperValue,
    Points,
    area_cm2,
    deceleration_time_ms,
    gradient_mmHg,
    half_time_ms,
    heart_rate,
    integral_cm,
    length_cm,
    time_ms,
    velocity_m_s,
    volume_mL,
)
from tableside.model import Region, RegionKind, quantities

Read = Callable[[Region, Points, CaliperOptions], CaliperValue]

PICTURE: Needs = {RegionKind.TWO_D: ("cm", "cm"), RegionKind.COLOUR: ("cm", "cm")}
DEPTH: Needs = {RegionKind.M_MODE: (None, "cm"), RegionKind.COLOUR_M_MODE: (None, "cm")}
SPEED: Needs = {RegionKind.SPECTRAL: (None, "m/s")}
SPECTRUM: Needs = {RegionKind.SPECTRAL: ("s", "m/s")}
TRACING: Needs = {
    RegionKind.SPECTRAL: ("s", None),
    RegionKind.M_MODE: ("s", None),
    RegionKind.COLOUR_M_MODE: ("s", None),
    RegionKind.ECG: ("s", None),
}

PICTURE_ONLY = ("LAD", "LVOTd", "AoAnn", "PAd", "LVLd", "LVLs")
EXCURSIONS = ("TAPSE", "MAPSE")


@dataclass(frozen=True, slots=True)
class Rule:
    """How one quantity is read from a person's points. ``most`` None means no limit."""

    needs: Needs
    fewest: int
    most: int | None
    read: Read

    def require_count(self, points: Points) -> None:
        """Raise `NotMeasurable` for a number of points that cannot give the quantity."""
        if len(points) < self.fewest or (self.most is not None and len(points) > self.most):
            raise NotMeasurable(f"it has {_count(len(points))}; it takes {self._wanted()}")

    def _wanted(self) -> str:
        if self.most is None:
            return f"{self.fewest} or more"
        if self.fewest == self.most:
            return f"{self.fewest}"
        return f"{self.fewest} or {self.most}"


@cache
def caliper_rules() -> Mapping[str, Rule]:
    """Return the rule of every quantity in the catalogue."""
    return {id_: _rule(id_, quantity.kind) for id_, quantity in quantities().items()}


BY_KIND: Mapping[str, Rule] = {
    "length": Rule({**PICTURE, **DEPTH}, 2, 2, length_cm),
    "lateral length": Rule(PICTURE, 2, 2, length_cm),
    "velocity": Rule(SPEED, 1, 2, velocity_m_s),
    "time": Rule(TRACING, 2, 2, time_ms),
    "vti": Rule(SPECTRUM, 3, None, integral_cm),
    "gradient": Rule(SPECTRUM, 3, None, gradient_mmHg),
    "area": Rule(PICTURE, 3, None, area_cm2),
    "volume": Rule(PICTURE, 5, None, volume_mL),
    "rate": Rule(TRACING, 2, 2, heart_rate),
}

BY_QUANTITY: Mapping[str, Rule] = {
    "DT": Rule(SPECTRUM, 2, 2, deceleration_time_ms),
    "AR_PHT": Rule(SPECTRUM, 2, 2, half_time_ms),
    **{id_: Rule(PICTURE, 2, 2, length_cm) for id_ in PICTURE_ONLY},
    **{id_: Rule(DEPTH, 2, 2, length_cm) for id_ in EXCURSIONS},
}


def _rule(id_: str, kind: str) -> Rule:
    return BY_QUANTITY.get(id_, BY_KIND[kind])


def _count(number: int) -> str:
    return "1 point" if number == 1 else f"{number} points"
