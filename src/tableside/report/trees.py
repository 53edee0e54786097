"""The content trees: TID 5200 (echocardiography) and TID 1500 (imaging measurements).

Sources: DICOM PS3.16 TID 5200, 5201, 5202 and TID 1500, 1501; PS3.17 annex N.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Any

from tableside.errors import InputError
from tableside.model import Reading
from tableside.report.codes import PATIENT, Coded, site_titles
from tableside.report.content import (
    MODIFIER,
    NAMES,
    Links,
    coded,
    concept,
    container,
    finding_site,
    image_item,
    number,
    words,
)
from tableside.report.numbers import CodedNumber, coded_numbers
from tableside.report.subject import observation_context
from tableside.report.uids import derived_uid

TRANSTHORACIC = Coded("SCT", "433236007", "Transthoracic echocardiography")
GROUP = Coded("DCM", "125007", "Measurement Group")


def tree(reading: Reading, template: str, version: str) -> Any:
    """Return the root of the content tree.

    Raises
    ------
    InputError
        For a template other than ``5200`` and ``1500``.
    """
    trees = {"5200": _echo_report, "1500": _measurement_report}
    if template not in trees:
        raise InputError(f"template {template!r}; there are {', '.join(trees)}. Choose one.")
    return trees[template](reading, version)


def _echo_report(reading: Reading, version: str) -> Any:
    """Return the tree of TID 5200, rows in their order."""
    numbers = coded_numbers(reading)
    root = Coded("DCM", "125200", "Adult Echocardiography Procedure Report")
    procedure = coded(Coded("DCM", "125203", "Acquisition Protocol"), TRANSTHORACIC, "CONTAINS")
    return container(
        root,
        [
            _language(),
            *observation_context(reading.exam.patient, version),
            container(Coded("DCM", "121064", "Current Procedure Descriptions"), [procedure]),
            *_patient_characteristics(reading, numbers),
            *_image_library(reading),
            *_sections(numbers),
            *_conclusions(reading),
        ],
        template="5200",
    )


def _measurement_report(reading: Reading, version: str) -> Any:
    """Return the tree of TID 1500; one tracked group a number (TID 1501)."""
    root = Coded("DCM", "126000", "Imaging Measurement Report")
    groups = [_tracked_group(one) for one in coded_numbers(reading)]
    return container(
        root,
        [
            _language(),
            *observation_context(reading.exam.patient, version),
            coded(Coded("DCM", "121058", "Procedure reported"), TRANSTHORACIC, MODIFIER),
            *_image_library(reading),
            container(Coded("DCM", "126010", "Imaging Measurements"), groups),
        ],
        template="1500",
    )


def _language() -> Any:
    name = Coded("DCM", "121049", "Language of Content Item and Descendants")
    return coded(name, Coded("RFC5646", "en", "English"), MODIFIER)


def _patient_characteristics(reading: Reading, numbers: Sequence[CodedNumber]) -> list[Any]:
    """Return TID 5201: weight, body surface and blood pressure."""
    visit, patient = reading.exam.visit, reading.exam.patient
    rows = []
    if patient.weight_kg is not None:
        rows.append(number(Coded("LN", "29463-7", "Patient Weight"), patient.weight_kg, "kg"))
    pressure = visit.systolic_pressure_mmHg
    if pressure is not None:
        name = Coded("SCT", "271649006", "Systolic Blood Pressure")
        rows.append(number(name, pressure, "mm[Hg]"))
    rows += _items(one for one in numbers if one.coding.site == PATIENT)
    title = Coded("DCM", "121118", "Patient Characteristics")
    return [container(title, rows)] if rows else []


def _image_library(reading: Reading) -> list[Any]:
    """Return the images that the numbers came from."""
    used = {beat.file for one in reading.exam.measurements for beat in one.beats if beat.used}
    linked = Links.of(reading).images
    items = [image_item(linked[file], 0, "CONTAINS") for file in linked if file in used]
    for item in items:
        for reference in item.ReferencedSOPSequence:
            reference.pop("ReferencedFrameNumber", None)
    return [container(Coded("DCM", "111028", "Image Library"), items)] if items else []


def _sections(numbers: Sequence[CodedNumber]) -> list[Any]:
    """Return TID 5202 once a part of the heart, in the order of TID 5200."""
    title = Coded("DCM", "121070", "Findings")
    made = []
    for site in site_titles():
        here = [one for one in numbers if one.coding.site == site]
        if here:
            made.append(container(title, [finding_site(site), *_groups_by_mode(here)]))
    return made


def _groups_by_mode(numbers: Sequence[CodedNumber]) -> list[Any]:
    """Return one measurement group an image mode; what was computed has none."""

    def mode_name(one: CodedNumber) -> str:
        return one.mode.meaning if one.mode else "~"

    groups = []
    for _, group in groupby(sorted(numbers, key=mode_name), key=mode_name):
        here = list(group)
        mode = here[0].mode
        head = [coded(NAMES["Image Mode"], mode, MODIFIER)] if mode else []
        groups.append(container(GROUP, [*head, *_items(here)]))
    return groups


def _items(numbers: Iterable[CodedNumber]) -> list[Any]:
    return [item for one in numbers for item in one.items]


def _tracked_group(one: CodedNumber) -> Any:
    from highdicom.sr import UIDRefContentItem  # noqa: PLC0415

    tracked = concept(Coded("DCM", "112040", "Tracking Unique Identifier"))
    return container(
        GROUP,
        [
            words(Coded("DCM", "112039", "Tracking Identifier"), one.id, "HAS OBS CONTEXT"),
            UIDRefContentItem(
                tracked, derived_uid("number", one.id), relationship_type="HAS OBS CONTEXT"
            ),
            *([finding_site(one.coding.site)] if one.coding.site != PATIENT else []),
            *one.items,
        ],
    )


def _conclusions(reading: Reading) -> list[Any]:
    """Return the findings in words; TID 5200 is extensible and has no row for them."""
    name = Coded("DCM", "121077", "Conclusion")
    said = [
        words(name, f"{one.title}: {one.statement} [{one.source}]", "CONTAINS")
        for one in reading.findings
    ]
    return [container(Coded("DCM", "121076", "Conclusions"), said)] if said else []
