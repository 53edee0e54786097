"""A scale that a person read off the ruler on the image, as a calibrated region."""

from typing import TYPE_CHECKING

from tableside.errors import WorksheetError
from tableside.model import Axis, Box, Region, RegionKind

if TYPE_CHECKING:
    from tableside.intake.worksheet_keys import ImageTable, ScaleTable

HAND_SD = 0.01  # share: one pixel at each end of a ruler of 150 to 300 pixels


def hand_region(table: "ImageTable", scale: "ScaleTable", rows: int, columns: int) -> Region:
    """Return the region that ``[image.scale]`` describes.

    Raises
    ------
    WorksheetError
        When its box or baseline lies outside the image.
    """
    box = _box(table, scale, rows, columns)
    time = _axis("s", scale.columns_per_s, box[0])
    if scale.rows_per_m_s is not None and scale.baseline_row is not None:
        if not box[1] <= scale.baseline_row <= box[3]:
            raise WorksheetError(
                f"worksheet.toml: image.scale.baseline_row = {scale.baseline_row:g} of "
                f"{table.file} lies outside rows {box[1]} to {box[3]} of the tracing"
            )
        velocity = Axis(
            unit="m/s",
            per_pixel=-1 / scale.rows_per_m_s,
            origin_px=scale.baseline_row,
            relative_sd=HAND_SD,
        )
        return _region(RegionKind.SPECTRAL, box, time, velocity)
    depth = _axis("cm", scale.rows_per_cm, box[1])
    if time is not None or table.mmode is not None:
        return _region(RegionKind.M_MODE, box, time, depth)
    return _region(RegionKind.TWO_D, box, _axis("cm", scale.rows_per_cm, box[0]), depth)


def _region(kind: RegionKind, box: Box, x: Axis | None, y: Axis | None) -> Region:
    return Region(index=0, kind=kind, box=box, x=x, y=y, source="worksheet")


def _axis(unit: str, pixels_per_unit: float | None, origin_px: int) -> Axis | None:
    if pixels_per_unit is None:
        return None
    return Axis(
        unit=unit,
        per_pixel=1 / pixels_per_unit,
        origin_px=float(origin_px),
        relative_sd=HAND_SD,
    )


def _box(table: "ImageTable", scale: "ScaleTable", rows: int, columns: int) -> Box:
    """Return the box, cut by at most one pixel: people count from 1 as well as from 0."""
    if scale.box is None:
        return 0, 0, columns - 1, rows - 1
    left, top, right, bottom = scale.box
    if right > columns or bottom > rows:
        raise WorksheetError(
            f"worksheet.toml: image.scale.box = {list(scale.box)} of {table.file} reaches past "
            f"the image, which is {columns} x {rows}"
        )
    return left, top, min(right, columns - 1), min(bottom, rows - 1)
