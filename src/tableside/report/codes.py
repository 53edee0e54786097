"""Which code each quantity and index carries, read from ``data/codes.toml``."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import Any

from tableside.errors import DataError
from tableside.model import Image, Index, Measurement, Mode, RegionKind, quantities

PATIENT = "patient"  # where an index belongs to the animal and not to a part of the heart
LONGEST_VALUE, LONGEST_MEANING = 16, 64  # SH and LO; DICOM PS3.5 Table 6.2-1
ANNULUS = {
    "mitral annulus septal": "septal_annulus",
    "mitral annulus lateral": "lateral_annulus",
}


@dataclass(frozen=True, slots=True)
class Coded:
    """One code: scheme, value, meaning."""

    scheme: str
    value: str
    meaning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Coding:
    """How a number is named in the structured report; ``site`` is its section."""

    site: str
    concept: Coded
    unit: str | None = None
    flow: str | None = None
    part: str | None = None
    method: str | None = None

    def modifiers(self) -> tuple[tuple[str, Coded], ...]:
        """Return the concept modifiers: method, part of the heart, direction of flow."""
        named = (("method", self.method), ("part", self.part), ("flow", self.flow))
        return tuple((kind, code(kind, name)) for kind, name in named if name)


@cache
def _file() -> Mapping[str, Any]:
    path = files("tableside") / "data" / "codes.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def code(table: str, name: str) -> Coded:
    """Return a code by its table (``site``, ``mode``, ``view`` ...) and name."""
    entry = _file()[table].get(name)
    if entry is None:
        raise DataError(f"codes.toml: [{table}] has no {name!r}")
    return Coded(*(entry["code"] if isinstance(entry, dict) else entry))


def view_code(view: str | None) -> Coded | None:
    """Return the code of a view, or None where the standard has none."""
    return code("view", view) if view and view in _file()["view"] else None


def site_titles() -> Mapping[str, str]:
    """Return the headings of the sections, in the order of TID 5200."""
    return {name: entry["title"] for name, entry in _file()["site"].items()}


def private_scheme() -> Mapping[str, str]:
    """Return designator, name and organization of our own coding scheme."""
    scheme: Mapping[str, str] = _file()["scheme"]
    return scheme


def private_code(name: str, meaning: str) -> Coded:
    """Return a code of our own scheme; a name too long for a code value is shortened."""
    value = name
    if len(name) > LONGEST_VALUE:
        value = f"{name[:9]}-{sha256(name.encode()).hexdigest()[:6]}"
    return Coded(private_scheme()["designator"], value, meaning[:LONGEST_MEANING])


def coding_of(one: Measurement | Index, images: Sequence[Image] = ()) -> Coding:
    """Return the coding of a number.

    Parameters
    ----------
    one : Measurement or Index
    images : sequence of Image
        Where a measurement was read: their flow decides between the two sides of the heart.
    """
    if isinstance(one, Index):
        return _coding_of_index(one)
    flow = next((image.flow for image in images if image.flow), None)
    name = one.quantity
    entry = _file()["on_flow"].get(flow, {}).get(name) or _file()["quantity"].get(name)
    if entry is None:
        raise DataError(f"codes.toml: [quantity] has no {name!r}")
    coding = _coding(entry, name, quantities()[name].name)
    if coding.part == "by annulus":
        return replace(coding, part=ANNULUS.get(flow or ""))
    return coding


def words_of(one: Index) -> str:
    """Return what an index is called in words."""
    entry = _file()["index"].get(one.name, {})
    return str(entry.get("words", one.formula.replace("_", " ")))


def _coding_of_index(one: Index) -> Coding:
    entry = _file()["index"].get(one.name)
    meaning = f"{one.name}: {words_of(one)}"
    if entry is not None:
        return _coding(entry, one.name, meaning)
    return Coding(site=_site_of(one.inputs), concept=private_code(one.name, meaning))


def _coding(entry: Mapping[str, Any], name: str, meaning: str) -> Coding:
    given = {key: value for key, value in entry.items() if key != "words"}
    concept = given.pop("concept", None)
    return Coding(concept=Coded(*concept) if concept else private_code(name, meaning), **given)


def _site_of(inputs: Sequence[str]) -> str:
    """Return the section of the first input that has one."""
    known = {**_file()["index"], **_file()["quantity"]}
    return next((known[name]["site"] for name in inputs if name in known), "left_ventricle")


def mode_of(image: Image) -> Coded | None:
    """Return the code of how an image was made, or None where it is not known."""
    by_mode = {
        Mode.TWO_D: "two_d",
        Mode.M_MODE: "m_mode",
        Mode.COLOUR_M_MODE: "m_mode",
        Mode.COLOUR: "colour",
    }
    if image.mode is Mode.SPECTRAL:
        return _spectral_mode(image)
    return code("mode", by_mode[image.mode]) if image.mode in by_mode else None


def _spectral_mode(image: Image) -> Coded | None:
    if (image.flow or "").startswith("mitral annulus"):
        return code("mode", "tissue")
    region = image.region(RegionKind.SPECTRAL)
    wave = region.wave if region else None
    return code("mode", wave) if wave else None
