"""What a complete study holds, read from ``data/views.toml``."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from tableside.errors import DataError, NotFound
from tableside.model import (
    FLOWS,
    MMODE_LEVELS,
    VIEWS,
    Image,
    Mode,
    RegionKind,
    Species,
    quantities,
)

KEYS = {"view", "colour", "mmode", "flow", "numbers"}
KINDS: Mapping[str, tuple[RegionKind, ...]] = {
    "view": (RegionKind.TWO_D, RegionKind.COLOUR),
    "mmode": (RegionKind.M_MODE, RegionKind.COLOUR_M_MODE),
    "flow": (RegionKind.SPECTRAL,),
}
MODES: Mapping[str, tuple[Mode, ...]] = {
    "view": (Mode.TWO_D, Mode.COLOUR, Mode.UNKNOWN),
    "mmode": (Mode.M_MODE, Mode.COLOUR_M_MODE, Mode.UNKNOWN),
    "flow": (Mode.SPECTRAL, Mode.UNKNOWN),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing that a complete study holds.

    ``kind`` says by which label an image shows it (``view``, ``mmode`` or ``flow``);
    ``labels`` are the accepted ones; ``numbers`` are the quantities it is there to give.
    """

    name: str
    kind: str
    labels: tuple[str, ...]
    colour: bool = False
    numbers: tuple[str, ...] = ()

    def is_kind_of(self, image: Image) -> bool:
        """Return whether an image is of the kind that could show this item."""
        return image.mode in ((Mode.COLOUR,) if self.colour else MODES[self.kind])

    def is_shown_by(self, image: Image) -> bool:
        """Return whether an image carries the label of this item."""
        return self.is_kind_of(image) and _label(self.kind, image) in self.labels

    def awaits_label(self, image: Image) -> bool:
        """Return whether an image could show this item and has no label that would say so."""
        return self.is_kind_of(image) and _label(self.kind, image) is None

    def obstacle(self, image: Image) -> str | None:
        """Return why nothing can be measured on an image that shows this item, or None."""
        if image.doubt is not None:
            return image.doubt
        regions = [region for region in image.regions if region.kind in KINDS[self.kind]]
        scaled = [region for region in regions if region.x is not None or region.y is not None]
        if not scaled:
            return "the image carries no scale"
        doubts = [region.doubt for region in scaled]
        return None if None in doubts else doubts[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Protocol:
    """A kind of study and what it holds."""

    name: str
    title: str
    species: Species
    sources: tuple[str, ...]
    items: tuple[Item, ...]


@cache
def protocols() -> Mapping[str, Protocol]:
    """Return the protocols that ship with tableside, by name."""
    path = files("tableside") / "data" / "views.toml"
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    items = {name: _item(name, line) for name, line in raw["item"].items()}
    return {name: _protocol(name, line, items) for name, line in raw["protocol"].items()}


def protocol_named(name: str) -> Protocol:
    """Return one protocol; the error lists the known ones."""
    known = protocols()
    if name not in known:
        raise NotFound(f"no protocol {name!r}; there are {', '.join(known)}")
    return known[name]


def _protocol(name: str, line: Mapping[str, Any], items: Mapping[str, Item]) -> Protocol:
    if line.keys() != {"title", "species", "sources", "items"}:
        raise DataError(f"views.toml: protocol {name} has keys {sorted(line)}")
    unknown = [item for item in line["items"] if item not in items]
    if unknown or len(set(line["items"])) != len(line["items"]):
        raise DataError(f"views.toml: protocol {name} has an item twice or unknown: {unknown}")
    return Protocol(
        name=name,
        title=line["title"],
        species=Species(line["species"]),
        sources=tuple(line["sources"]),
        items=tuple(items[item] for item in line["items"]),
    )


def _item(name: str, line: Mapping[str, Any]) -> Item:
    kinds = [kind for kind in KINDS if kind in line]
    if len(kinds) != 1 or not line.keys() <= KEYS:
        raise DataError(f"views.toml: item {name} has keys {sorted(line)}")
    labels = tuple(line[kinds[0]])
    known = {"view": VIEWS, "mmode": MMODE_LEVELS, "flow": FLOWS}[kinds[0]]
    numbers = tuple(line.get("numbers", ()))
    strange = [*(set(labels) - set(known)), *(set(numbers) - quantities().keys())]
    if strange or not labels:
        raise DataError(f"views.toml: item {name} names unknown things: {sorted(strange)}")
    return Item(
        name=name,
        kind=kinds[0],
        labels=labels,
        colour=line.get("colour", False),
        numbers=numbers,
    )


def _label(kind: str, image: Image) -> str | None:
    return {"view": image.view, "mmode": image.mmode, "flow": image.flow}[kind]
