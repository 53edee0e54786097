"""What there is to measure and to label, for the pages."""

from collections.abc import Sequence
from functools import cache
from importlib.metadata import version

from tableside.credibility.views import protocols
from tableside.measure.caliper_rules import caliper_rules
from tableside.model import FLOWS, MMODE_LEVELS, VIEWS, citations, quantities
from tableside.report.cautions import ALWAYS
from tableside.server.shapes.catalogue import (
    Catalogue,
    Item,
    Label,
    Place,
    Protocol,
    Quantity,
    Source,
)
from tableside.units import text

KEYS = "1234567890qwertzuiop"  # one hand reaches them; enough for the longest list


@cache
def catalogue() -> Catalogue:
    """Return everything that does not depend on a study."""
    return Catalogue(
        version=version("tableside"),
        cautions=list(ALWAYS),
        quantities=[_quantity(id_) for id_ in quantities()],
        views=_labels(VIEWS),
        mmode_levels=_labels(MMODE_LEVELS),
        flows=_labels(FLOWS),
        protocols=_protocols(),
        sources=[Source(key=key, text=one.text) for key, one in citations().items()],
    )


def _quantity(id_: str) -> Quantity:
    entry, rule = quantities()[id_], caliper_rules()[id_]
    return Quantity(
        id=id_,
        name=entry.name,
        unit=text(entry.unit),
        kind=entry.kind,
        low=entry.low,
        high=entry.high,
        fewest_points=rule.fewest,
        most_points=rule.most,
        places=[Place(region=kind, x=x, y=y) for kind, (x, y) in rule.needs.items()],
    )


def _labels(labels: Sequence[str]) -> list[Label]:
    return [Label(label=label, key=key) for label, key in zip(labels, KEYS, strict=False)]


def _protocols() -> list[Protocol]:
    return [
        Protocol(
            name=one.name,
            title=one.title,
            species=one.species,
            items=[
                Item(
                    name=item.name,
                    kind=item.kind,
                    labels=list(item.labels),
                    colour=item.colour,
                    quantities=list(item.numbers),
                )
                for item in one.items
            ],
        )
        for one in protocols().values()
    ]
