"""Whether the scale of the file agrees with the ruler that is drawn on the image."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import log10

from tableside.errors import NotMeasurable
from tableside.imaging.ruler import Ruler, Way, find_rulers
from tableside.imaging.types import Pixels
from tableside.model import Axis, Image, Region, RegionKind
from tableside.units import text

_CHECKED = (
    RegionKind.TWO_D,
    RegionKind.COLOUR,
    RegionKind.M_MODE,
    RegionKind.COLOUR_M_MODE,
    RegionKind.SPECTRAL,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleOptions:
    """When a ruler counts as disagreeing. Change these, not the code."""

    agreement: float = 0.02  # share that ruler and file may differ
    steps: tuple[float, ...] = (1.0, 2.0, 2.5, 5.0)  # what one gap can stand for, times 10^n
    least_marks: int = 8  # a ruler of fewer marks never casts doubt
    least_span_share: float = 0.6  # nor one that covers less of the region


def check_scale(image: Image, pixels: Pixels, options: ScaleOptions = ScaleOptions()) -> Image:
    """Compare each scale with the ruler beside its region; return the image, perhaps in doubt.

    Parameters
    ----------
    image : Image
    pixels : (rows, columns) or (rows, columns, 3)
        One of its frames.
    options : ScaleOptions

    Returns
    -------
    Image
        With ``doubt`` set when a ruler contradicts the file: the gap between its marks is then
        no length that a ruler is divided into. Unchanged when it agrees or is not found.

    Notes
    -----
    A gap stands for 1, 2, 2.5 or 5 times a power of ten. A scale that is wrong by exactly such
    a step cannot be told from the ruler; other checks have to see it. A scale that a person
    read off the ruler is remarked on and still used.
    """
    if image.doubt is not None:
        return image
    for region, axis, way in _axes(image):
        sentence = _contradiction(region, axis, way, pixels, options)
        if sentence is None:
            continue
        if region.source == "dicom":
            return replace(image, doubt=sentence, notes=(*image.notes, sentence))
        image = replace(image, notes=(*image.notes, sentence))
    return image


def _axes(image: Image) -> Iterator[tuple[Region, Axis, Way]]:
    """Yield each scale once, with the way its ruler runs."""
    seen: set[tuple[object, ...]] = set()
    for region in image.regions:
        if region.kind not in _CHECKED or region.doubt is not None:
            continue
        pairs: tuple[tuple[Axis | None, Way], ...] = ((region.y, "down"), (region.x, "across"))
        for axis, way in pairs:
            if axis is not None and (region.box, way) not in seen:
                seen.add((region.box, way))
                yield region, axis, way


def _contradiction(
    region: Region, axis: Axis, way: Way, pixels: Pixels, options: ScaleOptions
) -> str | None:
    """Return what to tell the person when every clear ruler disagrees; None otherwise."""
    try:
        rulers = find_rulers(pixels, region.box, way)
    except NotMeasurable:
        return None
    size = abs(axis.per_pixel)
    if any(_error(ruler.spacing_px * size, options) <= options.agreement for ruler in rulers):
        return None
    extent = region.height if way == "down" else region.width
    clear = [ruler for ruler in rulers if _is_clear(ruler, extent, options)]
    return _sentence(clear[0], axis, options) if clear else None


def _is_clear(ruler: Ruler, extent: int, options: ScaleOptions) -> bool:
    return (
        ruler.marks >= options.least_marks
        and ruler.span_px >= options.least_span_share * extent
        and ruler.spacing_sd_px / ruler.spacing_px < options.agreement / 4
    )


def _error(gap: float, options: ScaleOptions) -> float:
    """Return how far a gap is from the nearest length that rulers are divided into."""
    step = _nearest_step(gap, options)
    return abs(gap / step - 1)


def _nearest_step(gap: float, options: ScaleOptions) -> float:
    decade = 10.0 ** int(log10(gap) // 1)
    steps = [decade * step for step in (*options.steps, 10.0)]
    return min(steps, key=lambda step: abs(gap / step - 1))


def _sentence(ruler: Ruler, axis: Axis, options: ScaleOptions) -> str:
    gap = ruler.spacing_px * abs(axis.per_pixel)
    step = _nearest_step(gap, options)
    return (
        f"the scale of the file disagrees with the ruler on the image: {ruler.marks} marks, "
        f"{gap:.3g} {text(axis.unit)} apart by the file, where {step:g} is likely "
        f"({100 * (gap / step - 1):+.0f} %). Use the original from the machine, or give the "
        "scale read off the ruler in the worksheet"
    )
