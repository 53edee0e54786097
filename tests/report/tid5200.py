"""A small checker of the rows of TID 5200, 5202 and 5203 (DICOM PS3.16)."""

from collections.abc import Iterator

from pydicom import Dataset

# Root rows in their order (the order is significant): DICOM PS3.16 TID 5200, edition 2020a,
# rows 1-8, and the observation context of TID 1001.
# (value, scheme) -> rank, relationship, value type.
ROOT_ROWS = {
    ("121049", "DCM"): (1, "HAS CONCEPT MOD", "CODE"),
    ("121005", "DCM"): (2, "HAS OBS CONTEXT", "CODE"),
    ("121012", "DCM"): (2, "HAS OBS CONTEXT", "UIDREF"),
    ("121013", "DCM"): (2, "HAS OBS CONTEXT", "TEXT"),
    ("121015", "DCM"): (2, "HAS OBS CONTEXT", "TEXT"),
    ("121024", "DCM"): (3, "HAS OBS CONTEXT", "CODE"),
    ("121029", "DCM"): (3, "HAS OBS CONTEXT", "PNAME"),
    ("121030", "DCM"): (3, "HAS OBS CONTEXT", "TEXT"),
    ("121031", "DCM"): (3, "HAS OBS CONTEXT", "DATE"),
    ("121032", "DCM"): (3, "HAS OBS CONTEXT", "CODE"),
    ("121034", "DCM"): (3, "HAS OBS CONTEXT", "CODE"),
    ("121035", "DCM"): (3, "HAS OBS CONTEXT", "CODE"),
    ("121064", "DCM"): (4, "CONTAINS", "CONTAINER"),
    ("121118", "DCM"): (5, "CONTAINS", "CONTAINER"),
    ("111028", "DCM"): (6, "CONTAINS", "CONTAINER"),
    ("121070", "DCM"): (7, "CONTAINS", "CONTAINER"),
    ("121076", "DCM"): (8, "CONTAINS", "CONTAINER"),  # an extension: the template is extensible
}
# Sections in the order of rows 9 to 18.
SITES = (
    "87878005", "53085002", "82471001", "73829009", "34202007", "91134007", "39057004",
    "46030003", "15825003", "81040000",
)  # fmt: skip
# TID 5203 and TID 300, 310-312: what may stand below a number.
BELOW_NUMBER = {
    "HAS CONCEPT MOD": {
        "370129005", "363698007", "106233006", "260674002", "272518008", "121401",
    },
    "HAS ACQ CONTEXT": {"399264008", "111031"},
    "HAS PROPERTIES": {
        "121402", "121403", "121404", "371886008", "371885007", "385524004", "371933006",
        "121407", "121408", "121416", "121106",
    },
    "INFERRED FROM": {"121112"},
}  # fmt: skip


def key(item: Dataset) -> tuple[str, str]:
    name = item.ConceptNameCodeSequence[0]
    return name.CodeValue, name.CodingSchemeDesignator


def faults(report: Dataset) -> list[str]:
    """Return every way in which the tree leaves the template."""
    return [*_root(report), *_order(report), *_sections(report)]


def _root(report: Dataset) -> Iterator[str]:
    if key(report) != ("125200", "DCM"):
        yield f"root is {key(report)}"
    template = report.ContentTemplateSequence[0]
    if (template.MappingResource, template.TemplateIdentifier) != ("DCMR", "5200"):
        yield "root names another template"


def _order(report: Dataset) -> Iterator[str]:
    rank = 0
    for item in report.ContentSequence:
        row = ROOT_ROWS.get(key(item))
        if row is None:
            yield f"{key(item)} has no row"
            continue
        if row[0] < rank:
            yield f"{key(item)} is out of order"
        rank = row[0]
        if (item.RelationshipType, item.ValueType) != row[1:]:
            yield f"{key(item)} is {item.RelationshipType} {item.ValueType}"


def _sections(report: Dataset) -> Iterator[str]:
    last = -1
    for section in report.ContentSequence:
        if key(section) != ("121070", "DCM"):
            continue
        first, *groups = section.ContentSequence
        if key(first) != ("363698007", "SCT"):
            yield "a section does not begin with its finding site"
            continue
        place = SITES.index(first.ConceptCodeSequence[0].CodeValue)
        if place <= last:
            yield "sections are out of order or twice"
        last = place
        if not groups:
            yield "a section has no measurement group"
        for group in groups:
            yield from _group(group)


def _group(group: Dataset) -> Iterator[str]:
    if key(group) != ("125007", "DCM") or group.RelationshipType != "CONTAINS":
        yield f"{key(group)} where a measurement group is due"
    numbers = [item for item in group.ContentSequence if item.ValueType == "NUM"]
    if not numbers:
        yield "a measurement group without a measurement"
    for item in numbers:
        if item.RelationshipType != "CONTAINS":
            yield "a measurement that its group does not contain"
        for child in item.get("ContentSequence", ()):
            if key(child)[0] not in BELOW_NUMBER.get(child.RelationshipType, set()):
                yield f"{key(child)} {child.RelationshipType} below {key(item)}"
