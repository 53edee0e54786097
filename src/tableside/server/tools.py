"""The tools of the pages: nearest edges, M-mode from a cine, rulers."""

import base64
from typing import Any, Literal

import cv2

from tableside.automatic.cine_mmode import COLUMN_S
from tableside.corrections.facts import Line
from tableside.errors import NotMeasurable, OutOfRange, TablesideError
from tableside.imaging.ruler import Ruler, RulerOptions, Way, find_rulers
from tableside.imaging.snap import Interfaces, snap
from tableside.imaging.types import Pixels
from tableside.measure.caliper_regions import caliper_region
from tableside.measure.caliper_rules import caliper_rules
from tableside.measure.caliper_values import CaliperOptions
from tableside.model import Image, Measurement, Point, quantity
from tableside.report.digits import significant
from tableside.server.document import image_json
from tableside.server.live_study import LiveStudy
from tableside.server.shapes import study as shapes
from tableside.server.shapes.reading import Region as ToldRegion
from tableside.server.shapes.tools import (
    Convention,
    Extreme,
    MMode,
    MModeGiven,
    RulerGiven,
    Rulers,
    SnapGiven,
    Snapped,
    SnappedEnd,
)
from tableside.server.shapes.tools import Ruler as ToldRuler
from tableside.units import text

ANYWHERE = RulerOptions(inside_share=0.5, outside_px=0)  # where no region says where it stands
WAYS: tuple[Way, ...] = ("down", "across")


def frame_of(live: LiveStudy, image: Image, frame: int) -> Pixels:
    """Return a decoded frame; of a film too."""
    if frame >= image.frames:
        raise OutOfRange(f"frame {frame}; the image has frames 0 to {image.frames - 1}")
    return live.opened.frame(image.file, frame)


def snap_caliper(live: LiveStudy, given: SnapGiven) -> Snapped:
    """Return the interfaces nearest to both ends of a caliper."""
    image = live.image(given.image)
    pixels = frame_of(live, image, given.frame)
    start, end = ((x, y) for x, y in given.points)
    direction = (end[0] - start[0], end[1] - start[1])
    ends: list[Interfaces | None] = []
    problem = None
    for point in (start, end):
        try:
            ends.append(snap(pixels, point, direction))
        except NotMeasurable as error:
            ends.append(None)
            problem = str(error)
    return Snapped(
        ends=[None if one is None else _end(one) for one in ends],
        conventions=_conventions(image, given.quantity, ends),
        problem=problem,
    )


def _end(one: Interfaces) -> SnappedEnd:
    return SnappedEnd(
        nearest=_rounded(one.nearest),
        rising=None if one.rising is None else _rounded(one.rising),
        falling=None if one.falling is None else _rounded(one.falling),
        contrast=significant(one.contrast),
        sd_px=significant(one.sd_px),
    )


def _conventions(
    image: Image, name: str | None, ends: list[Interfaces | None]
) -> list[Convention]:
    """Return the caliper from where the echo begins to where the next begins, and inside.

    Leading edge: grey rises at both ends. Inner edge: it falls at the first, rises at the
    second.
    """
    start, end = ends
    if start is None or end is None or end.rising is None:
        return []
    pairs: tuple[tuple[Literal["leading edge", "inner edge"], Point | None], ...] = (
        ("leading edge", start.rising),
        ("inner edge", start.falling),
    )
    return [
        _convention(image, name, which, (first, end.rising))
        for which, first in pairs
        if first is not None
    ]


def _convention(
    image: Image,
    name: str | None,
    which: Literal["leading edge", "inner edge"],
    points: tuple[Point, Point],
) -> Convention:
    told: dict[str, Any] = {}
    if name is not None:
        try:
            rule, entry = caliper_rules()[quantity(name).id], quantity(name)
            region = caliper_region(image, points, rule.needs)
            value = rule.read(region, points, CaliperOptions()).value
            told = {"value": significant(value), "unit": text(entry.unit)}
        except TablesideError:
            told = {}  # without a scale the places alone are shown
    return Convention(name=which, points=[_rounded(one) for one in points], **told)


def mmode(live: LiveStudy, given: MModeGiven) -> MMode:
    """Return the M-mode along a line of a cine."""
    live.require_state()
    image = live.image(given.image)
    (x0, y0), (x1, y1) = given.line
    line: Line = ((x0, y0), (x1, y1))
    found = live.looks.mmode(image, line)
    _, png = cv2.imencode(".png", found.picture)
    alone = Image(file=image.file, mode=image.mode, rows=1, columns=1, regions=(found.region,))
    return MMode(
        png=base64.b64encode(bytes(png)).decode("ascii"),
        rows=found.picture.shape[0],
        columns=found.picture.shape[1],
        column_s=COLUMN_S,
        region=ToldRegion(**image_json(alone)["regions"][0]),
        traces=[
            shapes.Line(name=one.name, points=[_rounded(point) for point in one.points])
            for one in found.traces
        ],
        diameters=[extreme for one in found.measurements for extreme in _extremes(one)],
        frames_per_s=significant(1 / found.frame_s),
        notes=list(found.notes),
    )


def _extremes(one: Measurement) -> list[Extreme]:
    return [
        Extreme(
            quantity=one.quantity,
            value=significant(beat.value),
            sd=significant(beat.sd),
            unit=text(one.unit),
            frame=beat.frame,
            time_s=significant(beat.time_s or 0.0),
            points=[_rounded(point) for point in beat.points],
        )
        for beat in one.beats
    ]


def rulers(live: LiveStudy, given: RulerGiven) -> Rulers:
    """Return the rulers on a picture, beside its regions or anywhere when it has none."""
    image = live.image(given.image)
    pixels = frame_of(live, image, given.frame)
    boxes = [region.box for region in image.regions if region.source == "dicom"]
    whole = (0, 0, image.columns - 1, image.rows - 1)
    options = RulerOptions() if boxes else ANYWHERE
    found: dict[tuple[str, int], ToldRuler] = {}
    for box in boxes or [whole]:
        for way in WAYS:
            try:
                for one in find_rulers(pixels, box, way, options):
                    found.setdefault((way, one.line_px), _ruler(one, way))
            except NotMeasurable:
                continue
    if not found:
        problem = "no ruler was found; set two points and say how far apart they are"
        return Rulers(rulers=[], problem=problem)
    return Rulers(rulers=sorted(found.values(), key=lambda one: -len(one.ticks)))


def _ruler(one: Ruler, way: Way) -> ToldRuler:
    count = round(one.span_px / one.spacing_px) + 1
    places = [one.first_px + number * one.spacing_px for number in range(count)]
    line = float(one.line_px)
    ticks = [(line, place) if way == "down" else (place, line) for place in places]
    return ToldRuler(
        way=way,
        line_px=one.line_px,
        spacing_px=significant(one.spacing_px),
        spacing_sd_px=significant(one.spacing_sd_px),
        ticks=[_rounded(tick) for tick in ticks],
    )


def _rounded(point: Point) -> Point:
    return significant(point[0]), significant(point[1])
