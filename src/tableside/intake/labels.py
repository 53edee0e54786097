"""What the worksheet says about single images, joined to them; and its calipers."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from tableside.errors import WorksheetError
from tableside.intake.hand_scale import hand_region
from tableside.intake.opened_file import OpenedFile, image_mode
from tableside.model import Caliper, Image, Mode, Rejected

if TYPE_CHECKING:
    from tableside.intake.worksheet_keys import CaliperTable, ImageTable, Worksheet

NO_SCALE = (
    "carries no calibration: shown, not measured. Give [image.scale] in the worksheet, read "
    "off the ruler on the image"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Labelled:
    """The images with their labels, the calipers that can be used, and the rest."""

    images: tuple[Image, ...]
    calipers: tuple[Caliper, ...] = ()
    rejected: tuple[Rejected, ...] = ()


@dataclass(frozen=True, slots=True)
class _Places:
    """Which name of the worksheet means which file."""

    images: Mapping[str, Image]
    refused: Mapping[str, str]
    outside: Collection[str]  # files beside a study that is one file

    def find(self, name: str) -> str:
        """Return the name inside the study: as written, or the only file that ends so."""
        cleaned = name.replace("\\", "/").removeprefix("./")
        known = [*self.images, *self.refused]
        if cleaned in known:
            return cleaned
        ending = [one for one in known if one.endswith("/" + cleaned)]
        return ending[0] if len(ending) == 1 else cleaned


def label(
    files: Sequence[OpenedFile],
    worksheet: "Worksheet | None",
    rejected: Sequence[Rejected],
    outside: Collection[str] = (),
) -> Labelled:
    """Join the worksheet to the images.

    Raises
    ------
    WorksheetError
        When a scale or a caliper does not fit the image it is for.
    """
    images = {one.image.file: one.image for one in files}
    places = _Places(images, {one.file: one.reason for one in rejected}, outside)
    refusals: list[Rejected] = []
    for table in worksheet.image if worksheet else ():
        file = places.find(table.file)
        if file in images:
            images[file] = _with_labels(images[file], table)
        elif file not in outside and file not in places.refused:
            refusals.append(_not_there(file, "the worksheet describes it"))
    calipers, lost = _calipers(worksheet, places)
    return Labelled(
        images=tuple(map(_with_remark, images.values())),
        calipers=calipers,
        rejected=(*refusals, *lost),
    )


def _with_labels(image: Image, table: "ImageTable") -> Image:
    """Add view, level, flow and scale; a scale written by hand wins over the file's."""
    image = replace(image, view=table.view, mmode=table.mmode, flow=table.flow)
    if table.scale is not None:
        region = hand_region(table, table.scale, image.rows, image.columns)
        had = ("the scale of the worksheet replaces that of the file",) if image.regions else ()
        image = replace(image, regions=(region,), doubt=None, notes=image.notes + had)
        image = replace(image, mode=image_mode(image.regions))
    if image.mode is Mode.UNKNOWN and (table.mmode or table.flow):
        return replace(image, mode=Mode.M_MODE if table.mmode else Mode.SPECTRAL)
    return replace(image, notes=image.notes + misplaced(image))


def misplaced(image: Image) -> tuple[str, ...]:
    """Remark on a label that cannot belong to this kind of image."""
    strips = (Mode.M_MODE, Mode.COLOUR_M_MODE)
    if image.flow is not None and image.mode is not Mode.SPECTRAL:
        return (f"labelled as {image.flow}, but it holds no spectral Doppler tracing",)
    if image.mmode is not None and image.mode not in strips:
        return (f"labelled as an M-mode of the {image.mmode}, but it holds no M-mode",)
    return ()


def _with_remark(image: Image) -> Image:
    if any(region.x is not None or region.y is not None for region in image.regions):
        return image
    return replace(image, notes=(*image.notes, NO_SCALE))


def _calipers(
    worksheet: "Worksheet | None", places: _Places
) -> tuple[tuple[Caliper, ...], list[Rejected]]:
    kept: list[Caliper] = []
    lost: list[Rejected] = []
    for number, table in enumerate(worksheet.caliper if worksheet else (), start=1):
        file = places.find(table.file)
        if file in places.images:
            _require_inside(number, table, places.images[file])
            kept.append(
                Caliper(
                    quantity=table.quantity, file=file, frame=table.frame, points=table.points
                )
            )
        elif file in places.refused:
            reason = f"the {table.quantity} caliper was not used: {places.refused[file]}"
            lost.append(Rejected(file=file, reason=reason))
        elif file not in places.outside:
            lost.append(_not_there(file, f"the worksheet has a {table.quantity} caliper on it"))
    return tuple(kept), lost


def _not_there(file: str, why: str) -> Rejected:
    return Rejected(
        file=file,
        reason=f"not in the study, although {why}: add the file or correct the name",
    )


def _require_inside(number: int, table: "CaliperTable", image: Image) -> None:
    where = f"worksheet.toml: caliper[{number}] ({table.quantity} on {table.file})"
    if table.frame >= image.frames:
        raise WorksheetError(
            f"{where}: frame = {table.frame}; the image has frames 0 to {image.frames - 1}"
        )
    for x, y in table.points:
        if x > image.columns - 0.5 or y > image.rows - 0.5:
            raise WorksheetError(
                f"{where}: the point ({x:g}, {y:g}) lies outside the image, which is "
                f"{image.columns} x {image.rows}"
            )
