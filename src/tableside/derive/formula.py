"""One line of the catalogue: a formula, what it is fed with and what it gives."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from inspect import signature

from tableside.model import Species

# What the ending of a parameter's name says about its unit (UCUM); no ending is a ratio.
ENDINGS = {
    "_cm": "cm",
    "_mm": "mm",
    "_cm2": "cm2",
    "_mL": "mL",
    "_m2": "m2",
    "_m_s": "m/s",
    "_cm_s": "cm/s",
    "_ms": "ms",
    "_s": "s",
    "_per_min": "{beats}/min",
    "_per_s": "{circ/s}",
    "_mmHg": "mm[Hg]",
    "_kg": "kg",
    "_g": "g",
    "_L_min": "L/min",
}


def unit_of(parameter: str) -> str:
    """Return the unit that the ending of a parameter's name stands for."""
    found = [ending for ending in ENDINGS if parameter.endswith(ending)]
    return ENDINGS[max(found, key=len)] if found else "1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """A function of the topic modules as an index of the trade.

    ``takes`` maps each parameter to a measurement, to another index, or to ``weight``,
    ``systolic pressure`` or ``right atrial pressure``. A measurement may be narrowed after an
    ``@``: ``LA @ 2-d``, ``ET @ aortic outflow``. ``together`` is set where the measurements
    should come from one image.
    """

    function: Callable[..., float]
    gives: str
    unit: str
    takes: Mapping[str, str]
    sources: tuple[str, ...]
    constants: Mapping[str, float] = field(default_factory=dict)
    assumes: tuple[str, ...] = ()
    species: Species | None = None
    together: bool = False

    @property
    def name(self) -> str:
        """Name of the function."""
        return self.function.__name__

    @property
    def parameters(self) -> tuple[str, ...]:
        """Names of the function's parameters, in order."""
        return tuple(signature(self.function).parameters)
