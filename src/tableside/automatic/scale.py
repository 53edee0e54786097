"""Whether the scale of the file agrees with the ruler that is drawn on the image."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from math import floor, log10

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
    # what one gap can stand for, times a power of ten; velocity scales follow the pulse rate
    # and are divided more freely (common practice)
    steps: Mapping[str, tuple[float, ...]] = field(
        default_factory=lambda: {
            "cm": (1.0, 2.0, 2.5, 5.0),
            "s": (1.0, 2.0, 2.5, 4.0, 5.0),
            "m/s": (1.0, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0),
        }
    )
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
    A gap in depth stands for 1, 2, 2.5 or 5 times a power of ten. A scale that is wrong by
    exactly such a step cannot be told from the ruler; other checks have to see it. A scale
    that a person read off the ruler is remarked on and still used.
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
    steps = options.steps.get(axis.unit)
    if steps is None:
        return None
    try:
        rulers = find_rulers(pixels, region.box, way)
    except NotMeasurable:
        return None
    if any(abs(_excess(ruler, axis, steps)) <= options.agreement for ruler in rulers):
        return None
    extent = region.height if way == "down" else region.width
    clear = [ruler for ruler in rulers if _is_clear(ruler, extent, options)]
    return _sentence(clear[0], axis, steps) if clear else None


def _is_clear(ruler: Ruler, extent: int, options: ScaleOptions) -> bool:
    return (
        ruler.marks >= options.least_marks
        and ruler.span_px >= options.least_span_share * extent
        and ruler.spacing_sd_px / ruler.spacing_px < options.agreement / 4
    )


def _gap(ruler: Ruler, axis: Axis) -> float:
    return ruler.spacing_px * abs(axis.per_pixel)


def _excess(ruler: Ruler, axis: Axis, steps: tuple[float, ...]) -> float:
    """Return by which share a gap exceeds the nearest length that rulers are divided into."""
    gap = _gap(ruler, axis)
    return gap / _nearest_step(gap, steps) - 1


def _nearest_step(gap: float, steps: tuple[float, ...]) -> float:
    decade = 10.0 ** floor(log10(gap))
    return min((decade * step for step in (*steps, 10.0)), key=lambda step: abs(gap / step - 1))


def _sentence(ruler: Ruler, axis: Axis, steps: tuple[float, ...]) -> str:
    gap = _gap(ruler, axis)
    likely = _nearest_step(gap, steps)
    return (
        f"the scale of the file disagrees with the ruler on the image: {ruler.marks} marks, "
        f"{gap:.3g} {text(axis.unit)} apart by the file, where {likely:g} is "
        f"likely ({100 * _excess(ruler, axis, steps):+.0f} %). Use the original from the "
        "machine, or give the scale read off the ruler in the worksheet"
    )
