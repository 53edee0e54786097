"""One measurement or index as NUM items, the same for every template.

Sources: DICOM PS3.16 TID 5203 (Echo Measurement), TID 300, 310, 311, 312.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any

from tableside.model import Z90, Beat, Image, Index, Measurement, Number, Reading
from tableside.report.codes import Coded, Coding, coding_of, mode_of
from tableside.report.content import (
    NAMES,
    PROPERTY,
    Links,
    derivation,
    frames,
    image_view,
    modifiers,
    normal_range,
    number,
    selection,
    sources,
    uncertainty,
    with_children,
    words,
)
from tableside.report.doubt import checks_against
from tableside.units import convert

LOWER_BOUND = "A lower bound: the true value can only be higher."


@dataclass(frozen=True, slots=True, kw_only=True)
class CodedNumber:
    """A number with its section, image mode and NUM items; the last item is the one to use."""

    id: str
    coding: Coding
    mode: Coded | None
    items: tuple[Any, ...]


def coded_numbers(reading: Reading) -> list[CodedNumber]:
    """Return every finite number of a reading, measurements before indices."""
    links = Links.of(reading)
    exam = reading.exam
    found = [
        _of_measurement(one, reading, links) for one in exam.measurements if isfinite(one.value)
    ]
    return found + [_of_index(one, reading) for one in exam.indices if isfinite(one.value)]


def _of_measurement(one: Measurement, reading: Reading, links: Links) -> CodedNumber:
    images = [image for file in one.files if (image := reading.exam.image(file))]
    coding = coding_of(one, images)
    unit = coding.unit or one.unit
    writer = _Writer(coding, unit, convert(1.0, one.unit, unit), image_view(_view(images)))
    used = [beat for beat in one.beats if beat.used and isfinite(beat.value)]
    items = []
    if len(used) > 1:
        items = [writer.beat(beat, sources(one, [beat], links)) for beat in used]
    chosen = reading.exam.measurement(one.quantity) is one
    extra = [
        *_how(one, used, chosen),
        *_properties(one, writer),
        *_remarks(one, one.quantity, reading),
        *(frames(used, links) if len(used) > 1 else sources(one, used, links)),
    ]
    items.append(writer.value(one.value, extra))
    mode = mode_of(images[0]) if images else None
    return CodedNumber(id=one.id, coding=coding, mode=mode, items=tuple(items))


def _of_index(one: Index, reading: Reading) -> CodedNumber:
    coding = coding_of(one)
    unit = coding.unit or one.unit
    writer = _Writer(coding, unit, convert(1.0, one.unit, unit), [])
    extra = [
        derivation("calculated"),
        *_properties(one, writer),
        *_remarks(one, one.name, reading),
    ]
    return CodedNumber(
        id=one.name, coding=coding, mode=None, items=(writer.value(one.value, extra),)
    )


@dataclass(frozen=True, slots=True)
class _Writer:
    """Writes values under one concept, unit and view."""

    coding: Coding
    unit: str
    factor: float
    view: Sequence[Any]

    def value(self, value: float, children: Sequence[Any]) -> Any:
        named = modifiers(self.coding.modifiers())
        item = number(self.coding.concept, value * self.factor, self.unit)
        return with_children(item, [*named, *children, *self.view])

    def beat(self, beat: Beat, children: Sequence[Any]) -> Any:
        return self.value(beat.value, children)


def _how(one: Measurement, used: Sequence[Beat], chosen: bool) -> list[Any]:
    """Return the derivation and, for the value to use, why it was selected."""
    averaged = len(used) > 1
    items = [derivation("mean")] if averaged else []
    if chosen and (averaged or one.method == "caliper"):
        items.append(selection("mean" if averaged else "user"))
    return items


def _properties(one: Number, writer: _Writer) -> list[Any]:
    half_width = Z90 * one.sd * writer.factor
    items = uncertainty(half_width, writer.unit) if one.sd else []
    if one.references:
        items += normal_range(one.references[0], writer.unit, writer.factor)
    return items


def _remarks(one: Number, name: str, reading: Reading) -> list[Any]:
    """Return what an importer must not lose: a bound, and a check that was not passed."""
    said = [LOWER_BOUND] if one.bound == "lower" else []
    said += [
        f"{check.verdict.capitalize()}: {check.message}"
        for check in checks_against(reading, name)
    ]
    return [words(NAMES["Comment"], text, PROPERTY) for text in said]


def _view(images: Sequence[Image]) -> str | None:
    return images[0].view if images else None
