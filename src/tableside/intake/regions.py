"""Calibrated regions of a header, with one rule for signs whatever the maker writes.

Source: DICOM PS3.3 C.8.5.5 (US Region Calibration Module).
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import cos, isfinite, radians
from typing import Any

from pydicom.dataset import Dataset

from tableside.intake.fit import Fit, fit_boxes
from tableside.intake.limits import MAX_REGIONS
from tableside.model import Axis, Box, Region, RegionKind

_CM, _S, _HZ, _CM_S = 3, 4, 5, 7  # units codes, C.8.5.5.1.15
_SOUND_CM_S = 154_000.0  # speed of sound in soft tissue, the trade's convention
_BY_SPACE: dict[tuple[int, int], RegionKind] = {  # spatial format, data type
    (1, 1): RegionKind.TWO_D,
    (1, 2): RegionKind.COLOUR,
    (2, 1): RegionKind.M_MODE,
    (2, 2): RegionKind.COLOUR_M_MODE,
    (3, 3): RegionKind.SPECTRAL,
    (3, 4): RegionKind.SPECTRAL,
    (4, 10): RegionKind.ECG,
}
_BY_FORMAT = {1: RegionKind.TWO_D, 2: RegionKind.M_MODE, 3: RegionKind.SPECTRAL}
_WAVES = {3: "pulsed", 4: "continuous"}
_BASELINE_SLACK = 0.02  # share of the strip's height that a zero line may lie outside it


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """The regions of one image. ``doubt`` is set when none of them can be trusted."""

    regions: tuple[Region, ...] = ()
    doubt: str | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Item:
    """One item of the sequence, its numbers read."""

    index: int
    space: int
    data: int
    box: Box
    units: tuple[int, int]
    deltas: tuple[float, float]
    reference: tuple[float | None, float | None]  # relative to the box
    values: tuple[float, float]
    frequency_hz: float
    angle_deg: float


def calibration(dataset: Dataset, rows: int, columns: int) -> Calibration:
    """Turn the regions of a header into records in image coordinates.

    Notes
    -----
    Repeats are dropped. PixelSpacing is used only where there are no regions at all: beside
    regions it may belong to the small 2-D picture alone.
    """
    items = list(_items(dataset))
    if not items:
        return _from_spacing(dataset, rows, columns)
    fit = fit_boxes([item.box for item in items if item.space], rows, columns)
    regions: dict[tuple[Any, ...], Region] = {}
    notes = list(fit.notes)
    for item in items:
        region = _region(item, fit, rows, columns)
        if region is None:
            continue
        regions.setdefault((region.kind, region.box, region.x, region.y), region)
    notes += [region.doubt for region in regions.values() if region.doubt and not fit.doubt]
    return Calibration(
        regions=tuple(regions.values()), doubt=fit.doubt, notes=tuple(dict.fromkeys(notes))
    )


def _items(dataset: Dataset) -> Iterator[_Item]:
    sequence = dataset.get("SequenceOfUltrasoundRegions") or ()
    for index, raw in enumerate(sequence[:MAX_REGIONS] if sequence else ()):
        corners = [_number(raw.get(f"RegionLocation{end}")) for end in _CORNERS]
        if any(corner is None or not 0 <= corner < 2**31 for corner in corners):
            continue
        left, top, right, bottom = (int(corner or 0) for corner in corners)
        yield _Item(
            index=index,
            space=int(_number(raw.get("RegionSpatialFormat")) or 0),
            data=int(_number(raw.get("RegionDataType")) or 0),
            box=(left, top, right, bottom),
            units=_pair(raw, "PhysicalUnits{}Direction", int),
            deltas=_pair(raw, "PhysicalDelta{}", float),
            reference=(
                _number(raw.get("ReferencePixelX0")),
                _number(raw.get("ReferencePixelY0")),
            ),
            values=_pair(raw, "ReferencePixelPhysicalValue{}", float),
            frequency_hz=(_number(raw.get("TransducerFrequency")) or 0.0) * 1000,
            angle_deg=_number(raw.get("DopplerCorrectionAngle")) or 0.0,
        )


_CORNERS = ("MinX0", "MinY0", "MaxX1", "MaxY1")


def _pair(raw: Dataset, keyword: str, kind: type) -> tuple[Any, Any]:
    x, y = (_number(raw.get(keyword.format(axis))) or 0.0 for axis in "XY")
    return kind(x), kind(y)


def _number(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError):
        return None
    return number if isfinite(number) else None


def _region(item: _Item, fit: Fit, rows: int, columns: int) -> Region | None:
    """Return the record of one item; None when its box is empty or outside the image."""
    left, top, right, bottom = item.box
    if not fit.doubt:
        right, bottom = min(right, columns - 1), min(bottom, rows - 1)
    if right <= left or bottom <= top:
        return None
    kind = _kind(item)
    region = Region(
        index=item.index,
        kind=kind,
        box=(left, top, right, bottom),
        wave=_WAVES.get(item.data) if kind is RegionKind.SPECTRAL else None,
        doubt=fit.doubt,
    )
    if kind is RegionKind.SPECTRAL:
        return _with_velocity(replace(region, x=_time(item)), item)
    if kind in (RegionKind.TWO_D, RegionKind.COLOUR):
        return replace(region, x=_length(item, 0), y=_length(item, 1))
    if kind in (RegionKind.M_MODE, RegionKind.COLOUR_M_MODE):
        return replace(region, x=_time(item), y=_length(item, 1))
    return replace(region, x=_time(item)) if kind is RegionKind.ECG else region


def _kind(item: _Item) -> RegionKind:
    """Return the kind; units decide where a maker calls every strip a 2-D picture."""
    kind = _BY_SPACE.get((item.space, item.data)) or _BY_FORMAT.get(
        item.space, RegionKind.OTHER
    )
    if kind in (RegionKind.TWO_D, RegionKind.COLOUR, RegionKind.M_MODE):
        if item.units == (_S, _CM_S):
            return RegionKind.SPECTRAL
        if item.units == (_S, _CM) and kind is not RegionKind.M_MODE:
            return RegionKind.M_MODE if kind is RegionKind.TWO_D else RegionKind.COLOUR_M_MODE
    return kind


def _length(item: _Item, way: int) -> Axis | None:
    """Return an axis in cm that grows to the right or downwards, whatever the sign stored."""
    delta = item.deltas[way]
    if item.units[way] != _CM or delta == 0:
        return None
    return Axis(
        unit="cm",
        per_pixel=abs(delta),
        origin_px=item.box[way] + (item.reference[way] or 0.0),
        origin=item.values[way] * (1 if delta > 0 else -1),
    )


def _time(item: _Item) -> Axis | None:
    """Return an axis in seconds from the left edge; the stored origin is not portable."""
    if item.units[0] != _S or item.deltas[0] == 0:
        return None
    return Axis(unit="s", per_pixel=abs(item.deltas[0]), origin_px=float(item.box[0]))


def _with_velocity(region: Region, item: _Item) -> Region:
    """Add the velocity axis: up is positive, and its zero must lie in the strip."""
    per_px = _m_s_per_px(item)
    if per_px is None:
        return region
    baseline = _baseline(item)
    if baseline is None:
        reason = (
            "the file does not say where the zero line of the spectrum is; give baseline_row "
            "and rows_per_m_s in the worksheet"
        )
        return replace(region, doubt=region.doubt or reason)
    return replace(region, y=Axis(unit="m/s", per_pixel=-per_px, origin_px=baseline))


def _m_s_per_px(item: _Item) -> float | None:
    """Return the size of one row; Doppler shifts only where the frequency is stated."""
    delta = abs(item.deltas[1])
    if delta == 0:
        return None
    if item.units[1] == _CM_S:
        return delta / 100
    if item.units[1] == _HZ and item.frequency_hz > 0 and abs(item.angle_deg) <= 60:
        across = 2 * item.frequency_hz * cos(radians(item.angle_deg))
        return _SOUND_CM_S * delta / across / 100
    return None


def _baseline(item: _Item) -> float | None:
    """Return the row of zero velocity in the image, or None when no reading fits the strip.

    The reference pixel counts from the region's own corner; some makers count from the
    image's. The reading that puts the zero line into the strip is right.
    """
    reference, delta = item.reference[1], item.deltas[1]
    if reference is None:
        return None
    _, top, _, bottom = item.box
    slack = _BASELINE_SLACK * (bottom - top + 1)
    zero = reference - item.values[1] / delta
    fits = [row for row in (top + zero, zero) if top - slack <= row <= bottom + slack]
    return fits[0] if fits else None


def _from_spacing(dataset: Dataset, rows: int, columns: int) -> Calibration:
    """Use PixelSpacing, in millimetres, for a picture that has no regions."""
    spacing = dataset.get("PixelSpacing")
    steps = [_number(step) for step in spacing] if spacing is not None else []
    if len(steps) != 2 or any(step is None or step <= 0 for step in steps):
        return Calibration()
    down, across = (float(step or 0) / 10 for step in steps)
    region = Region(
        index=0,
        kind=RegionKind.TWO_D,
        box=(0, 0, columns - 1, rows - 1),
        x=Axis(unit="cm", per_pixel=across, relative_sd=0.02),
        y=Axis(unit="cm", per_pixel=down, relative_sd=0.02),
    )
    note = (
        "the scale comes from PixelSpacing alone; compare it once with the ruler on the image"
    )
    return Calibration(regions=(region,), notes=(note,))
