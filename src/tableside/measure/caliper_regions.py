"""Which part of an image a caliper belongs to: the innermost calibrated one of the right kind.

Source of the rule: DICOM PS3.3 C.8.5.5.1.3 (overlapping regions).
"""

from collections.abc import Mapping, Sequence

from tableside.errors import NotMeasurable
from tableside.model import Axis, Image, Point, Region, RegionKind

Needs = Mapping[RegionKind, tuple[str | None, str | None]]  # units needed along x and y

IN_WORDS = {
    RegionKind.TWO_D: "a 2-D image",
    RegionKind.COLOUR: "a colour image",
    RegionKind.M_MODE: "an M-mode",
    RegionKind.COLOUR_M_MODE: "a colour M-mode",
    RegionKind.SPECTRAL: "a spectral Doppler tracing",
    RegionKind.ECG: "an ECG",
    RegionKind.OTHER: "another part",
}


def caliper_region(image: Image, points: Sequence[Point], needs: Needs) -> Region:
    """Return the region whose scale applies to all points.

    Parameters
    ----------
    image : Image
    points : sequence of (x, y)
        Pixel centres of the stored frame.
    needs : mapping
        The kinds of region that can give the quantity, each with the unit needed along x
        and along y; None where the axis does not matter.

    Raises
    ------
    NotMeasurable
        When no region of these kinds holds all points with these units, or when its scale or
        the image is in doubt. A doubted scale is never used, and no other region stands in
        for it.

    Notes
    -----
    Of several regions the smallest is taken: regions nest, overlap and repeat. One without a
    scale is passed over.
    """
    suitable = [region for region in image.regions if region.kind in needs]
    if not image.regions:
        raise NotMeasurable(
            "this image carries no scale; give the scale read off the ruler in the worksheet"
        )
    if not suitable:
        raise NotMeasurable(f"it is measured on {_list(needs)}; this image is {_shown(image)}")
    holding = [region for region in suitable if all(map(region.holds, points))]
    if not holding:
        raise NotMeasurable(_why_not_held(suitable, points))
    calibrated = [region for region in holding if _has_units(region, needs[region.kind])]
    if not calibrated:
        raise NotMeasurable(
            "this part of the image carries no scale for it; give the scale read off the "
            "ruler in the worksheet"
        )
    chosen = min(calibrated, key=lambda region: (region.area_px, region.index))
    doubt = chosen.doubt or image.doubt
    if doubt is not None:
        raise NotMeasurable(f"the scale of this image is in doubt: {doubt}")
    return chosen


def _why_not_held(suitable: Sequence[Region], points: Sequence[Point]) -> str:
    for x, y in points:
        if not any(region.holds((x, y)) for region in suitable):
            return (
                f"the point ({x:g}, {y:g}) lies outside {_list([r.kind for r in suitable])}; "
                "put every point inside"
            )
    return "the points lie in different parts of the image; put all of them in one"


def _has_units(region: Region, units: tuple[str | None, str | None]) -> bool:
    return all(map(_fits, (region.x, region.y), units))


def _fits(axis: Axis | None, unit: str | None) -> bool:
    return unit is None or (axis is not None and axis.unit == unit and axis.per_pixel != 0)


def _list(kinds: Mapping[RegionKind, object] | Sequence[RegionKind]) -> str:
    return " or ".join(IN_WORDS[kind] for kind in dict.fromkeys(kinds))


def _shown(image: Image) -> str:
    return " with ".join(dict.fromkeys(IN_WORDS[region.kind] for region in image.regions))
