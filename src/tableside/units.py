"""The closed list of units, by UCUM code.

Records carry a UCUM code; `text` is what a person reads; `convert` goes between two codes
of one dimension. Indices that divide by a power of body weight are dimensionless to UCUM
and carry an annotation, for example ``{cm/kg^0.294}``.

Source: The Unified Code for Units of Measure, table of codes (case sensitive).
"""

from dataclasses import dataclass

from tableside.errors import NotFound


@dataclass(frozen=True, slots=True)
class Unit:
    """One UCUM code: how it reads, what it measures, and its size in the base unit."""

    code: str
    text: str
    dimension: str
    factor: float


_LIST = (
    Unit("cm", "cm", "length", 1.0),
    Unit("mm", "mm", "length", 0.1),
    Unit("m/s", "m/s", "velocity", 1.0),
    Unit("cm/s", "cm/s", "velocity", 0.01),
    Unit("s", "s", "time", 1.0),
    Unit("ms", "ms", "time", 0.001),
    Unit("mm[Hg]", "mmHg", "pressure", 1.0),
    Unit("mm[Hg]/s", "mmHg/s", "pressure rate", 1.0),
    Unit("cm2", "cm2", "area", 1.0),
    Unit("mL", "mL", "volume", 1.0),
    Unit("L/min", "L/min", "flow", 1.0),
    Unit("mL/s", "mL/s", "flow", 0.06),
    Unit("{beats}/min", "beats/min", "rate", 1.0),
    Unit("kg", "kg", "mass", 1.0),
    Unit("g", "g", "mass", 0.001),
    Unit("m2", "m2", "body surface", 1.0),
    Unit("mL/m2", "mL/m2", "volume index", 1.0),
    Unit("mL/kg", "mL/kg", "volume by weight", 1.0),
    Unit("g/kg", "g/kg", "mass ratio", 1.0),
    Unit("L/min/m2", "L/min/m2", "flow index", 1.0),
    Unit("%", "%", "ratio", 0.01),
    Unit("1", "", "ratio", 1.0),
    Unit("deg", "deg", "angle", 1.0),
)
UNITS = {unit.code: unit for unit in _LIST}


def is_unit(code: str) -> bool:
    """Return whether ``code`` is in the list or is an annotation in braces."""
    return code in UNITS or (code.startswith("{") and code.endswith("}") and len(code) > 2)


def text(code: str) -> str:
    """Return the unit as a person reads it: ``mm[Hg]`` gives ``mmHg``."""
    if code in UNITS:
        return UNITS[code].text
    if is_unit(code):
        return code[1:-1]
    raise NotFound(f"no unit {code!r}; there are {', '.join(sorted(UNITS))}")


def convert(value: float, given: str, wanted: str) -> float:
    """Return ``value`` in another unit of the same dimension.

    Raises
    ------
    NotFound
        When a code is not in the list or the two measure different things.
    """
    if given == wanted:
        return value
    for code in (given, wanted):
        if code not in UNITS:
            raise NotFound(f"no unit {code!r}; there are {', '.join(sorted(UNITS))}")
    one, other = UNITS[given], UNITS[wanted]
    if one.dimension != other.dimension:
        raise NotFound(f"{given} is a {one.dimension} and {wanted} a {other.dimension}")
    return value * one.factor / other.factor
