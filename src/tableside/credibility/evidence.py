"""A number as the laws see it: its value, its ordinary error and where it came from."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, hypot

from tableside.model import Exam, Index, Measurement
from tableside.units import text

ODD_SHARE = 0.15  # an index whose sd is unknown (0) is taken as known to no better than this


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One number.

    ``sd`` holds everything that another sweep and another reader would add. ``sd_same`` leaves
    out what two numbers of one sweep share: its scale and how it was acquired. ``sd_jet``
    leaves out acquisition alone, for a jet whose beam angle is reckoned apart.
    """

    name: str
    value: float
    unit: str
    sd: float
    sd_same: float
    sd_jet: float
    files: tuple[str, ...] = ()
    is_lower_bound: bool = False

    @property
    def share(self) -> float:
        """The full standard deviation as a share of the value."""
        return self.sd / abs(self.value) if self.value else 1.0

    @property
    def share_same(self) -> float:
        """The standard deviation within one sweep as a share of the value."""
        return self.sd_same / abs(self.value) if self.value else 1.0

    @property
    def share_jet(self) -> float:
        """The standard deviation without acquisition as a share of the value."""
        return self.sd_jet / abs(self.value) if self.value else 1.0

    def __str__(self) -> str:
        return f"{self.name} {self.value:.3g} {text(self.unit)}".rstrip()


def seen(exam: Exam, name: str) -> Seen | None:
    """Return a measurement or an index by name, the one to rely on, or None."""
    measured = exam.measurement(name)
    if measured is not None:
        return of_measurement(measured)
    index = exam.index(name)
    return None if index is None else _of_index(exam, index)


def numbers(exam: Exam, *names: str) -> tuple[Seen, ...]:
    """Return numbers that are known to be there (the law named them among its needs)."""
    found = [one for name in names if (one := seen(exam, name)) is not None]
    if len(found) != len(names):
        raise LookupError(f"a law must name {names} among its needs")
    return tuple(found)


def of_measurement(one: Measurement) -> Seen:
    """Return a measurement as the laws see it."""
    spread = one.spread
    return Seen(
        name=one.quantity,
        value=one.value,
        unit=one.unit,
        sd=one.sd_total,
        sd_same=hypot(spread.trace, spread.beats, spread.reading),
        sd_jet=hypot(spread.sweep, spread.reading),
        files=one.files,
        is_lower_bound=one.bound == "lower",
    )


def _of_index(exam: Exam, index: Index) -> Seen:
    parts = [exam.measurement(name) for name in index.inputs]
    files = dict.fromkeys(file for part in parts if part for file in part.files)
    sd = index.sd_total or index.sd or ODD_SHARE * abs(index.value)
    return Seen(
        name=index.name,
        value=index.value,
        unit=index.unit,
        sd=sd,
        sd_same=index.sd or sd,
        sd_jet=index.sd or sd,
        files=tuple(files),
        is_lower_bound=index.bound == "lower",
    )


def of_flow(exam: Exam, quantity: str, flow: str) -> Seen | None:
    """Return a measurement made on a spectrum of that flow; one without a label also serves."""
    fallback = None
    for one in exam.all(quantity):
        flows = {image.flow for file in one.files if (image := exam.image(file))}
        if flow in flows or one.detail == flow:
            return of_measurement(one)
        if fallback is None and flows <= {None} and one.detail is None:
            fallback = one
    return None if fallback is None else of_measurement(fallback)


def files_of(*ones: Seen | None) -> tuple[str, ...]:
    """Return the images behind several numbers, each once, in order."""
    return tuple(dict.fromkeys(file for one in ones if one for file in one.files))


def ratio_share(one: Seen, other: Seen) -> float:
    """Return the sd of the log of a ratio; what one sweep shares cancels."""
    if set(one.files) & set(other.files):
        return hypot(one.share_same, other.share_same)
    return hypot(one.share, other.share)


def propagated_sd(formula: Callable[..., float], ones: Sequence[Seen]) -> float:
    """Return the sd of a formula of several numbers, each error on its own (first order).

    Numbers that all come from one image leave out what that image shares.
    """
    is_shared = len(ones) > 1 and bool(set.intersection(*(set(one.files) for one in ones)))
    values = [one.value for one in ones]
    parts = []
    for at, one in enumerate(ones):
        step = one.sd_same if is_shared else one.sd
        up, down = list(values), list(values)
        up[at], down[at] = one.value + step / 2, one.value - step / 2
        parts.append(formula(*up) - formula(*down))
    return hypot(*parts)


def from_log(value: float) -> float:
    """Return the ratio of a log ratio, bounded so that a message stays readable."""
    return exp(max(-9.0, min(9.0, value)))
