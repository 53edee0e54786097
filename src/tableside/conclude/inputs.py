"""The numbers a guideline takes, as a person would write them, and who doubts them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import floor, log10

from tableside.model import Check, Exam
from tableside.units import text

UNUSABLE = 0.5
SMALLEST_SHARE = 1e-6  # a doubt that no reader could tell from none
# what an index hangs on, for an index that does not say
BELOW = {
    "LA:Ao": ("LA", "Ao"),
    "LVIDDN": ("LVIDd", "weight"),
    "LVIDDN_0.33": ("LVIDd", "weight"),
    "FS": ("LVIDd", "LVIDs"),
    "EDVI": ("EDV", "weight"),
    "ESVI": ("ESV", "weight"),
    "EF_discs": ("EDV", "ESV"),
    "E:A": ("E", "A"),
    "E:IVRT": ("E", "IVRT"),
    "E:E'": ("E", "E'"),
    "AT:ET": ("AT", "ET"),
    "PA:Ao": ("PAd", "Ao"),
    "sphericity": ("LVLd", "LVIDd"),
    "TAPSEN": ("TAPSE", "weight"),
    "AV_PG": ("AV_Vmax",),
    "PV_PG": ("PV_Vmax",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One number with all of its doubt. ``below`` are the numbers that it hangs on."""

    name: str
    value: float
    sd: float
    unit: str
    is_lower_bound: bool = False
    below: tuple[str, ...] = ()

    def __str__(self) -> str:
        bound = "at least " if self.is_lower_bound else ""
        return (
            f"{self.name} {bound}{as_written(self.value, self.sd)} {text(self.unit)}".rstrip()
        )

    def in_mm(self) -> "Input":
        """Return a length in mm, as limits of lengths are printed."""
        return Input(
            name=self.name,
            value=10 * self.value,
            sd=10 * self.sd,
            unit="mm",
            is_lower_bound=self.is_lower_bound,
            below=self.below,
        )


def take(exam: Exam, name: str) -> Input | None:
    """Return a measurement or an index by name, or None."""
    measured = exam.measurement(name)
    if measured is not None:
        return Input(
            name=name,
            value=measured.value,
            sd=measured.sd_total,
            unit=measured.unit,
            is_lower_bound=measured.bound == "lower",
        )
    index = exam.index(name)
    if index is None:
        return None
    return Input(
        name=name,
        value=index.value,
        sd=max(index.sd_total, index.sd),
        unit=index.unit,
        is_lower_bound=index.bound == "lower",
        below=index.inputs or BELOW.get(name, ()),
    )


def as_written(value: float, sd: float) -> str:
    """Write a number with its standard deviation, to the digit that the latter allows."""
    if sd <= SMALLEST_SHARE * abs(value):
        return f"{value:.3g}"
    decimals = -floor(log10(sd)) + (1 if sd / 10 ** floor(log10(sd)) < 2 else 0)
    decimals = min(max(decimals, 0), 3)
    return f"{value:.{decimals}f} ± {sd:.{decimals}f}"


def doubts(used: Sequence[Input], checks: Iterable[Check]) -> tuple[str, ...]:
    """Return one caution for every input that a check calls unusable."""
    found = {}
    for check in checks:
        probability = check.probability_unusable
        if probability is None or probability <= UNUSABLE or not check.about:
            continue
        doubted = check.about[0]
        for one in used:
            if doubted == one.name or doubted in one.below:
                known = "" if doubted == one.name else f", on which {one.name} hangs,"
                found[doubted, one.name] = (
                    f"{doubted}{known} is probably unusable ({probability:.2f}, {check.id}): "
                    "repeat it before relying on this."
                )
    return tuple(found.values())


def joined(names: Sequence[str]) -> str:
    """Join words as a person does: one, two and three."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
