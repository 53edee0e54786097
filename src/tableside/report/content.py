"""Content items of a structured report, in few words.

Source: DICOM PS3.3 C.17.3 (SR Document Content Module), PS3.16 TID 300.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from tableside.model import Beat, Image, Measurement, Point, Reading, Reference, quantities
from tableside.report.codes import Coded, code, view_code

UID = re.compile(r"(0|[1-9][0-9]*)(\.(0|[1-9][0-9]*))+")  # PS3.5 section 9.1
NAMES = {
    "Finding Site": Coded("SCT", "363698007", "Finding Site"),
    "Measurement Method": Coded("SCT", "370129005", "Measurement Method"),
    "Flow Direction": Coded("SCT", "260674002", "Flow Direction"),
    "Image Mode": Coded("SCT", "399264008", "Image Mode"),
    "Image View": Coded("DCM", "111031", "Image View"),
    "Derivation": Coded("DCM", "121401", "Derivation"),
    "Selection Status": Coded("DCM", "121404", "Selection Status"),
    "Source": Coded("DCM", "121112", "Source of Measurement"),
    "Comment": Coded("DCM", "121106", "Comment"),
    "Upper uncertainty": Coded("SCT", "371886008", "+, range of upper measurement uncertainty"),
    "Lower uncertainty": Coded("SCT", "371885007", "-, range of lower measurement uncertainty"),
    "Lower limit": Coded("SCT", "385524004", "Normal Range Lower Limit"),
    "Upper limit": Coded("SCT", "371933006", "Normal Range Upper Limit"),
    "Range description": Coded("DCM", "121407", "Normal Range description"),
    "Range authority": Coded("DCM", "121408", "Normal Range Authority"),
    "Z-score": Coded("DCM", "121416", "Z-Score of measurement"),
}
MODIFIER_NAMES = {
    "method": "Measurement Method",
    "part": "Finding Site",
    "flow": "Flow Direction",
}
PROPERTY, MODIFIER = "HAS PROPERTIES", "HAS CONCEPT MOD"


def is_uid(text: str) -> bool:
    """Return whether a text is a valid UID; nothing else is ever linked to."""
    return len(text) <= 64 and UID.fullmatch(text) is not None


@dataclass(frozen=True, slots=True)
class Links:
    """The images of a study that may be referred to, by file name."""

    images: Mapping[str, Image]

    @classmethod
    def of(cls, reading: Reading) -> Links:
        """Take the images that carry valid identifiers."""
        return cls(
            {image.file: image for image in reading.exam.study.images if _is_linked(image)}
        )


def _is_linked(image: Image) -> bool:
    given = image.identity
    if given is None:
        return False
    return all(map(is_uid, (given.sop_class, given.sop_instance, given.study, given.series)))


def concept(coded: Coded) -> Any:
    """Return a coded concept of the library."""
    from highdicom.sr import CodedConcept  # noqa: PLC0415

    return CodedConcept(coded.value, coded.scheme, coded.meaning)


def ucum(unit: str) -> Any:
    """Return the code of a unit; the meaning of ``1`` is the one of CID 82."""
    meaning = {"1": "no units", "mm[Hg]": "mmHg"}.get(unit, unit)
    return concept(Coded("UCUM", unit, meaning))


def container(name: Coded, children: Iterable[Any], template: str | None = None) -> Any:
    """Return a container; ``template`` is given at the root."""
    from highdicom.sr import ContainerContentItem  # noqa: PLC0415

    relation = None if template else "CONTAINS"
    item = ContainerContentItem(concept(name), template_id=template, relationship_type=relation)
    return with_children(item, children)


def coded(name: Coded, value: Coded, relation: str) -> Any:
    """Return a CODE item."""
    from highdicom.sr import CodeContentItem  # noqa: PLC0415

    return CodeContentItem(concept(name), concept(value), relationship_type=relation)


def words(name: Coded, value: str, relation: str) -> Any:
    """Return a TEXT item."""
    from highdicom.sr import TextContentItem  # noqa: PLC0415

    return TextContentItem(concept(name), value, relationship_type=relation)


def number(name: Coded, value: float, unit: str, relation: str = "CONTAINS") -> Any:
    """Return a NUM item; six significant digits, as in ``study.json``."""
    from highdicom.sr import NumContentItem  # noqa: PLC0415

    rounded = float(f"{value:.6g}")
    return NumContentItem(concept(name), rounded, ucum(unit), relationship_type=relation)


def with_children(item: Any, children: Iterable[Any]) -> Any:
    """Hang items below an item; none leaves it bare."""
    from highdicom.sr import ContentSequence  # noqa: PLC0415

    found = list(children)
    if found:
        item.ContentSequence = ContentSequence(found)
    return item


def image_item(image: Image, frame: int, relation: str) -> Any:
    """Return a reference to a frame; frames are counted from 1 and named only in a cine."""
    from highdicom.sr import ImageContentItem  # noqa: PLC0415

    assert image.identity is not None
    return ImageContentItem(
        concept(NAMES["Source"]),
        referenced_sop_class_uid=image.identity.sop_class,
        referenced_sop_instance_uid=image.identity.sop_instance,
        referenced_frame_numbers=frame + 1 if image.frames > 1 else None,
        relationship_type=relation,
    )


def sources(one: Measurement, beats: Iterable[Beat], links: Links) -> list[Any]:
    """Return where a number was read: points on a frame, or the frame alone.

    Notes
    -----
    A spatial coordinate counts from the top left corner of the first pixel, a point of ours
    from its centre: half a pixel is added (PS3.3 C.18.6.1). Points outside the image are not
    written. An image without valid identifiers is not linked.
    """
    items = []
    for beat in beats:
        image = links.images.get(beat.file)
        if image is None or not 0 <= beat.frame < image.frames:
            continue
        corners = [(x + 0.5, y + 0.5) for x, y in beat.points]
        if not corners or not _are_inside(corners, image):
            items.append(image_item(image, beat.frame, "INFERRED FROM"))
        else:
            items.append(
                _points_item(one, corners, image_item(image, beat.frame, "SELECTED FROM"))
            )
    return items


def frames(beats: Iterable[Beat], links: Links) -> list[Any]:
    """Return the frames that a mean was read from; the points stand with the beats."""
    places = dict.fromkeys((beat.file, beat.frame) for beat in beats)
    return [
        image_item(links.images[file], frame, "INFERRED FROM")
        for file, frame in places
        if file in links.images and 0 <= frame < links.images[file].frames
    ]


def _points_item(one: Measurement, corners: list[Point], image: Any) -> Any:
    import numpy as np  # noqa: PLC0415
    from highdicom.sr import ScoordContentItem  # noqa: PLC0415

    if quantities()[one.quantity].kind == "area" and len(corners) > 2:
        corners = [*corners, corners[0]]
    item = ScoordContentItem(
        concept(NAMES["Source"]),
        graphic_type="POINT" if len(corners) == 1 else "POLYLINE",
        graphic_data=np.array(corners, dtype=np.float64),
        relationship_type="INFERRED FROM",
    )
    return with_children(item, [image])


def _are_inside(corners: Iterable[Point], image: Image) -> bool:
    return all(0 <= x <= image.columns and 0 <= y <= image.rows for x, y in corners)


def modifiers(pairs: Iterable[tuple[str, Coded]]) -> list[Any]:
    """Return the concept modifiers of TID 5203: method, site, direction of flow."""
    return [coded(NAMES[MODIFIER_NAMES[kind]], value, MODIFIER) for kind, value in pairs]


def derivation(how: str) -> Any:
    """Return how a number came about: ``mean`` or ``calculated`` (CID 3627)."""
    values = {
        "mean": Coded("SCT", "373098007", "Mean"),
        "calculated": Coded("SCT", "258090004", "Calculated"),
    }
    return coded(NAMES["Derivation"], values[how], MODIFIER)


def selection(how: str) -> Any:
    """Return why this value is the one to use (CID 224): ``mean`` or ``user``."""
    values = {
        "mean": Coded("DCM", "121412", "Mean value chosen"),
        "user": Coded("DCM", "121410", "User chosen value"),
    }
    return coded(NAMES["Selection Status"], values[how], PROPERTY)


def uncertainty(half_width: float, unit: str) -> list[Any]:
    """Return the 90 % interval as ranges above and below the value (TID 310)."""
    return [
        number(NAMES[name], half_width, unit, PROPERTY)
        for name in ("Upper uncertainty", "Lower uncertainty")
    ]


def normal_range(reference: Reference, unit: str, factor: float) -> list[Any]:
    """Return the published interval and the place of the value in it (TID 311, 312)."""
    items = []
    if reference.z is not None:
        items.append(number(NAMES["Z-score"], reference.z, "1", PROPERTY))
    for name, limit in (("Lower limit", reference.low), ("Upper limit", reference.high)):
        if limit is not None:
            items.append(number(NAMES[name], limit * factor, unit, PROPERTY))
    items.append(words(NAMES["Range description"], reference.population, PROPERTY))
    items.append(words(NAMES["Range authority"], reference.source, PROPERTY))
    return items


def image_view(view: str | None) -> list[Any]:
    """Return the view of the image, where the standard has a code for it (TID 5203)."""
    found = view_code(view)
    return [coded(NAMES["Image View"], found, "HAS ACQ CONTEXT")] if found else []


def finding_site(site: str) -> Any:
    """Return the section's part of the heart."""
    return coded(NAMES["Finding Site"], code("site", site), MODIFIER)
