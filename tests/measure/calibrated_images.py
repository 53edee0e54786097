"""Images with calibrated regions and no pixels, for tests of calipers."""

from collections.abc import Sequence

from tableside.model import Axis, Box, Caliper, Image, Mode, Point, Region, RegionKind, Study

SCREEN: Box = (0, 0, 1279, 799)


def picture(
    cm_per_column: float, cm_per_row: float, *, box: Box = SCREEN, index: int = 0
) -> Region:
    return Region(
        index=index,
        kind=RegionKind.TWO_D,
        box=box,
        x=Axis(unit="cm", per_pixel=cm_per_column),
        y=Axis(unit="cm", per_pixel=cm_per_row),
    )


def mmode(
    s_per_column: float, cm_per_row: float, *, box: Box = SCREEN, index: int = 0
) -> Region:
    return Region(
        index=index,
        kind=RegionKind.M_MODE,
        box=box,
        x=Axis(unit="s", per_pixel=s_per_column),
        y=Axis(unit="cm", per_pixel=cm_per_row),
    )


def spectrum(
    columns_per_s: float,
    rows_per_m_s: float,
    *,
    baseline_row: float,
    box: Box = SCREEN,
    index: int = 0,
) -> Region:
    return Region(
        index=index,
        kind=RegionKind.SPECTRAL,
        box=box,
        x=Axis(unit="s", per_pixel=1 / columns_per_s),
        y=Axis(unit="m/s", per_pixel=-1 / rows_per_m_s, origin_px=baseline_row),
    )


def image(*regions: Region, file: str = "I1.dcm", **labels: object) -> Image:
    return Image(
        file=file, mode=Mode.UNKNOWN, rows=800, columns=1280, regions=regions, **labels
    )


def caliper(quantity: str, *points: Point, file: str = "I1.dcm", frame: int = 0) -> Caliper:
    return Caliper(quantity=quantity, file=file, frame=frame, points=points)


def study(images: Sequence[Image], *calipers: Caliper) -> Study:
    return Study(images=tuple(images), calipers=calipers)
