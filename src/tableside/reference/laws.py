"""How publications give limits: fixed, by weight to a power, by percentiles, and so on.

Each law turns a body weight into limits, and a value into a distance from the centre in
standard deviations where the publication allows one. A weight is asked for only where the law
needs it; without it there are no limits.
"""

from dataclasses import dataclass
from math import log, sqrt
from typing import Protocol

WIDTH = 3.92  # a 95 % interval spans this many standard deviations
HALF = WIDTH / 2


@dataclass(frozen=True, slots=True)
class Limits:
    """Lower and upper limit; None where the publication gives only the other one."""

    low: float | None
    high: float | None


class Law(Protocol):
    """What every kind of table can answer."""

    def limits(self, weight_kg: float | None, /) -> Limits | None:
        """Return the limits at a weight, or None when there are none."""

    def z(self, value: float, weight_kg: float | None, /) -> float | None:
        """Return the distance from the centre in standard deviations, or None."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """Fixed limits, with the printed centre where there is one: no distribution is claimed."""

    low: float | None = None
    centre: float | None = None
    high: float | None = None

    def limits(self, _weight_kg: float | None) -> Limits | None:
        """Return the printed limits."""
        return Limits(self.low, self.high)

    def z(self, _value: float, _weight_kg: float | None) -> float | None:
        """Return None: two limits do not make a distribution."""
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Allometric:
    """Limit = constant * weight ** exponent; log-normal about the geometric centre."""

    exponent: float
    low: float | None = None
    centre: float | None = None
    high: float | None = None

    def limits(self, weight_kg: float | None) -> Limits | None:
        """Return the printed constants at this weight."""
        scale = self._scale(weight_kg)
        if scale is None:
            return None
        low, high = (None if end is None else end * scale for end in (self.low, self.high))
        return Limits(low, high)

    def z(self, value: float, weight_kg: float | None) -> float | None:
        """Return ln(x / sqrt(low * high)) over ln(high / low) / 3.92."""
        scale = self._scale(weight_kg)
        if scale is None or self.low is None or self.high is None or value <= 0:
            return None
        log_sd = log(self.high / self.low) / WIDTH
        return log(value / (sqrt(self.low * self.high) * scale)) / log_sd

    def _scale(self, weight_kg: float | None) -> float | None:
        if self.exponent == 0:
            return 1.0
        return None if weight_kg is None else float(weight_kg**self.exponent)


@dataclass(frozen=True, slots=True, kw_only=True)
class Percentiles:
    """Printed percentiles of value / weight ** exponent; each side has its own spread."""

    exponent: float
    p2_5: float
    p5: float
    p25: float
    p50: float
    p75: float
    p95: float
    p97_5: float

    def limits(self, weight_kg: float | None) -> Limits | None:
        """Return the 2.5th and 97.5th percentile at this weight."""
        if weight_kg is None:
            return None
        scale = weight_kg**self.exponent
        return Limits(self.p2_5 * scale, self.p97_5 * scale)

    def z(self, value: float, weight_kg: float | None) -> float | None:
        """Return the log distance from the median over the spread of that side."""
        if weight_kg is None or value <= 0:
            return None
        distance = log(value / (self.p50 * weight_kg**self.exponent))
        side = log(self.p97_5 / self.p50) if distance > 0 else log(self.p50 / self.p2_5)
        return distance / (side / HALF)


@dataclass(frozen=True, slots=True, kw_only=True)
class Normal:
    """Mean and standard deviation; the limits are mean -/+ 1.96 SD."""

    mean: float
    sd: float

    def limits(self, _weight_kg: float | None) -> Limits | None:
        """Return mean -/+ 1.96 SD."""
        return Limits(self.mean - HALF * self.sd, self.mean + HALF * self.sd)

    def z(self, value: float, _weight_kg: float | None) -> float | None:
        """Return (x - mean) / SD."""
        return (value - self.mean) / self.sd


@dataclass(frozen=True, slots=True, kw_only=True)
class Linear:
    """Mean = slope * weight + intercept, with one standard deviation about the line."""

    slope: float
    intercept: float
    sd: float

    def limits(self, weight_kg: float | None) -> Limits | None:
        """Return the line -/+ 1.96 SD at this weight."""
        at = self._at(weight_kg)
        return None if at is None else at.limits(weight_kg)

    def z(self, value: float, weight_kg: float | None) -> float | None:
        """Return the distance from the line in SD."""
        at = self._at(weight_kg)
        return None if at is None else at.z(value, weight_kg)

    def _at(self, weight_kg: float | None) -> Normal | None:
        if weight_kg is None:
            return None
        return Normal(mean=self.slope * weight_kg + self.intercept, sd=self.sd)


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Limits that hold from one weight up to another."""

    from_kg: float
    to_kg: float
    low: float | None = None
    centre: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Bands:
    """Limits by bands of weight, each from its lower end up to below the next."""

    bands: tuple[Band, ...]

    def limits(self, weight_kg: float | None) -> Limits | None:
        """Return the limits of the band that holds the weight."""
        if weight_kg is None:
            return None
        held = (band for band in self.bands if band.from_kg <= weight_kg < band.to_kg)
        return next((Limits(band.low, band.high) for band in held), None)

    def z(self, _value: float, _weight_kg: float | None) -> float | None:
        """Return None: a band does not make a distribution."""
        return None
