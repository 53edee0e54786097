"""A practice's own spreads as a file: the shape of ``data/spreads.toml``, percent.

A part that the table could not tell apart is left out; the default stays for it.
"""

from collections.abc import Iterator, Sequence
from math import hypot

from tableside.measure.repeatability import (
    BEAT,
    DAY,
    HABIT,
    OPERATOR,
    READING,
    Repeatability,
    coefficient_percent,
)

HEAD = """\
# How well this practice repeats its own numbers, in percent of each: coefficients of variation.
# Takes the place of the defaults: tableside read STUDY --out DIR --spreads FILE
# `beat`: between beats of one sweep. `acquisition`: between sweeps by one person.
# `reading`: between readers. A part that is left out could not be told apart: its default stays
"""


def own_spreads(found: Sequence[Repeatability], source: str) -> str:
    """Return the file for some quantities; ``source`` names the table they come from."""
    blocks = ("\n".join(_block(one)) for one in found)
    name = source.replace("\n", " ")
    return f"{HEAD}# From {name}\n\n" + "\n\n".join(blocks) + "\n"


def spreads_of(one: Repeatability) -> dict[str, float]:
    """Return the parts that replace the defaults, in percent.

    ``acquisition`` is the day. ``reading`` is what another person adds: the operator, the
    operator's way with a dog, and a second reading. A reading that is held by the day is
    written as 0, so that it does not count twice.
    """
    parts = {}
    if (beat := one.part(BEAT)) is not None:
        parts["beat"] = beat.cv_percent
    if (day := one.part(DAY)) is not None:
        parts["acquisition"] = day.cv_percent
    people = [part for name in (OPERATOR, HABIT, READING) if (part := one.part(name))]
    if people:
        parts["reading"] = hypot(*(part.cv_percent for part in people))
    elif READING in one.holds.get(DAY, ()):
        parts["reading"] = 0.0
    return parts


def _block(one: Repeatability) -> Iterator[str]:
    yield (
        f'[quantity."{one.quantity}"]' if "'" in one.quantity else f"[quantity.{one.quantity}]"
    )
    people = "1 operator" if one.operators == 1 else f"{one.operators} operators"
    yield f"# {one.dogs} dogs, {people}, {one.values} values; 90 % intervals in percent:"
    for part in one.parts:
        low, high = part.interval90
        held = one.holds.get(part.name)
        also = f" (with {' and '.join(held)})" if held else ""
        yield f"# {part.name}{also} {part.cv_percent:.1f}, {low:.1f} to {high:.1f}"
    yield (
        f"# repeatability coefficient, same operator: {coefficient_percent(one.within):.0f} %"
    )
    for name, percent in spreads_of(one).items():
        yield f"{name} = {percent:.2f}"
