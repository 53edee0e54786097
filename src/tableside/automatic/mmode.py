"""M-modes: the walls of the left ventricle, the mitral valve, the aorta and left atrium.

What the tracing crosses is the person's word (worksheet key ``mmode``), never a guess.
"""

import numpy as np

from collections.abc import Callable

from tableside.automatic import ImageReading
from tableside.errors import NotMeasurable, TablesideError
from tableside.imaging.mmode_grey import mmode_grey
from tableside.imaging.periodicity import beat_length_s, beat_starts
from tableside.imaging.types import Floats, Pixels
from tableside.imaging.walls import WallTrace, trace_walls
from tableside.measure.wall_beats import Place, WallRows
from tableside.measure.walls import measure_walls
from tableside.model import MMODE_LEVELS, Image, Region, RegionKind, Rhythm, RWave, Trace

MOST_POINTS = 400
FRAME_PX = 1  # many machines frame their tracings
SD_FACTOR = 1.0  # calibrates the spread of an edge; from phantom tuning seeds
UNKNOWN_LINE_CM = 0.012  # sd of the septal line's thickness where it cannot be seen


def measure_mmode(image: Image, pixels: Pixels, rhythm: Rhythm | None) -> ImageReading:
    """Measure one M-mode by its label.

    Parameters
    ----------
    image : Image
        ``image.mmode`` says what the tracing crosses.
    pixels : (rows, columns) or (rows, columns, 3)
        The picture.
    rhythm : Rhythm or None
        R waves in columns of the image; without them the beats come from the tracing itself.

    Returns
    -------
    ImageReading
        Without measurements and with a note where something forbids measuring.
    """
    try:
        region = _region(image)
        level = _level(image)
        tracing, place = _crop(image, pixels, region)
        reading = LEVELS[level](tracing, place, rhythm)
    except TablesideError as error:
        return ImageReading(notes=(f"{image.file}: {error}",))
    notes = tuple(f"{image.file}: {note}" for note in reading.notes)
    return ImageReading(measurements=reading.measurements, traces=reading.traces, notes=notes)


def _level(image: Image) -> str:
    if image.mmode is None:
        raise NotMeasurable(
            "this M-mode was not measured because nothing says what it crosses; set mmode in "
            f"its [[image]] of the worksheet to one of: {', '.join(MMODE_LEVELS)}"
        )
    if image.mmode not in LEVELS:
        raise NotMeasurable(
            f"mmode = {image.mmode!r} is not known; it may be {', '.join(MMODE_LEVELS)}"
        )
    return image.mmode


def _region(image: Image) -> Region:
    region = image.region(RegionKind.M_MODE)
    doubt = image.doubt or (region.doubt if region else None)
    if doubt:
        raise NotMeasurable(f"this M-mode was not measured: {doubt}")
    if region is None:
        if image.region(RegionKind.COLOUR_M_MODE):
            raise NotMeasurable(
                "a colour M-mode hides the walls; store the tracing without colour to measure it"
            )
        raise NotMeasurable(
            "no M-mode with a scale on this image; give [image.scale] in the worksheet"
        )
    return region


def _crop(image: Image, pixels: Pixels, region: Region) -> tuple[Pixels, Place]:
    """Return the tracing inside its frame, and where it lies."""
    left, top, right, bottom = region.box
    height, width = pixels.shape[:2]
    left, top = max(left, 0) + FRAME_PX, max(top, 0) + FRAME_PX
    right, bottom = min(right, width - 1) - FRAME_PX, min(bottom, height - 1) - FRAME_PX
    if right - left < 40 or bottom - top < 40:
        raise NotMeasurable("the M-mode region is too small to be measured; check its box")
    place = Place(file=image.file, frame=image.frames - 1, region=region, left=left, top=top)
    return pixels[top : bottom + 1, left : right + 1], place


def _left_ventricle(tracing: Pixels, place: Place, rhythm: Rhythm | None) -> ImageReading:
    region = place.region
    walls = trace_walls(tracing, cm_per_row=region.cm_per_row, s_per_column=region.s_per_column)
    rhythm = with_columns(rhythm) or _rhythm_of_tracing(tracing, walls.cavity_px, place)
    reading = measure_walls(_rows(walls), rhythm, place)
    lines = {
        "septum, right side": walls.septum_right.leading,
        "septum, left side": walls.septum_left.leading,
        "free wall, endocardium": walls.endocardium.leading,
        "free wall, epicardium": walls.epicardium.leading,
    }
    if walls.is_ambiguous.any():
        lines["line before the free wall"] = walls.other_endocardium
    return ImageReading(
        measurements=reading.measurements,
        traces=tuple(trace_of(name, line, place) for name, line in lines.items()),
        notes=reading.notes,
    )


def with_columns(rhythm: Rhythm | None) -> Rhythm | None:
    """Return the rhythm if its R waves can be found on the picture."""
    usable = rhythm is not None and rhythm.source != "file" and len(rhythm.r_waves) > 1
    return rhythm if usable else None


def _rhythm_of_tracing(tracing: Pixels, cavity: Floats, place: Place) -> Rhythm:
    """Return beats by motion: each begins where the cavity is largest."""
    step_s = place.region.s_per_column
    beat_s = beat_length_s(mmode_grey(tracing).grey, step_s)
    columns = place.left + beat_starts(cavity, beat_s / step_s)
    waves = tuple(
        RWave(column=float(x), time_s=place.region.seconds_from_left(float(x)), sd_s=0.02)
        for x in columns
    )
    return Rhythm(r_waves=waves, source="tracing")


def _rows(walls: WallTrace) -> WallRows:
    left = walls.septum_left
    edges = (walls.septum_right, left, walls.endocardium, walls.epicardium, left)
    rows = [edge.leading for edge in edges[:4]]
    rows.append(left.leading if left.trailing is None else left.trailing)
    line_px = UNKNOWN_LINE_CM / walls.cm_per_row if walls.line_cm is None else 0.0
    sd = SD_FACTOR * np.stack([edge.sd_px for edge in edges])
    sd[1] = np.hypot(sd[1], line_px)
    return WallRows(
        rows=np.stack(rows),
        sd=sd,
        clear=np.stack([edge.trusted for edge in edges]),
        second=walls.other_endocardium,
    )


def trace_of(name: str, line: Floats, place: Place) -> Trace:
    """Return a line as image points; columns without a row are left out."""
    step = max(1, -(-line.size // MOST_POINTS))
    return Trace(
        file=place.file,
        frame=place.frame,
        name=name,
        points=tuple(
            (float(place.left + column), place.top + float(line[column]))
            for column in range(0, line.size, step)
            if np.isfinite(line[column])
        ),
    )


LEVELS = {"left ventricle": _left_ventricle}
