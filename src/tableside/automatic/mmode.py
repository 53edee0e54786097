"""M-modes: the walls of the left ventricle, the mitral valve, the aorta, the annuli.

What the tracing crosses is the person's word (worksheet key ``mmode``), never a guess.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from tableside.automatic import ImageReading
from tableside.errors import NotMeasurable, TablesideError
from tableside.imaging.annulus import trace_annulus
from tableside.imaging.aorta import trace_root
from tableside.imaging.cusps import root_inside
from tableside.imaging.interface import Interface
from tableside.imaging.mitral import trace_leaflet
from tableside.imaging.mmode_grey import MmodeGrey, mmode_grey
from tableside.imaging.periodicity import SHORTEST_S, beat_length_s, beat_starts, contractions
from tableside.imaging.types import Floats, Pixels
from tableside.imaging.walls import WallTrace, trace_walls
from tableside.measure.ejection import measure_ejection_time
from tableside.measure.excursion import measure_excursion
from tableside.measure.in_step import is_in_step
from tableside.measure.moment import EdgeRows, Place
from tableside.measure.valves import measure_epss, measure_root_and_atrium
from tableside.measure.wall_beats import WallRows
from tableside.measure.walls import measure_walls
from tableside.model import MMODE_LEVELS, Image, Region, RegionKind, Rhythm, RWave, Trace

MOST_POINTS = 400
FRAME_PX = 1  # many machines frame their tracings
# calibrate the spread of an edge; from phantom tuning seeds
SD_FACTOR, SEPTUM_SD_FACTOR = 1.3, 1.75
BY_MOTION = (
    "No R waves that fit the motion of the aorta could be read: Ao was taken where the aorta "
    "begins to move to the probe, and there is no ejection time."
)
FEWEST_MOVES = 2  # contractions from which their distance is that of two beats
UNKNOWN_LINE_CM = 0.012  # sd of the septal line's thickness where it cannot be seen


def measure_mmode(
    image: Image, pixels: Pixels, rhythm: Rhythm | None, ecg: Trace | None = None
) -> ImageReading:
    """Measure one M-mode by its label.

    Parameters
    ----------
    image : Image
        ``image.mmode`` says what the tracing crosses.
    pixels : (rows, columns) or (rows, columns, 3)
        The picture.
    rhythm : Rhythm or None
        R waves in columns of the image; without them the beats come from the tracing itself.
    ecg : Trace, optional
        The electrocardiogram on this image: what was drawn over is not read as an echo.

    Returns
    -------
    ImageReading
        Without measurements and with a note where something forbids measuring.
    """
    try:
        region = _region(image)
        level = _level(image)
        tracing, place = _crop(image, pixels, region)
        reading = LEVELS[level](mmode_grey(tracing, _line(ecg, tracing, place)), place, rhythm)
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
                "a colour M-mode hides the walls; store one without colour to measure it"
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


def _line(ecg: Trace | None, tracing: Pixels, place: Place) -> Floats | None:
    """Return the row of the electrocardiogram in each column of the tracing."""
    if ecg is None or not ecg.points:
        return None
    columns, rows = np.array(ecg.points).T
    here = np.arange(tracing.shape[1]) + place.left
    found = np.interp(here, columns, rows - place.top, left=np.nan, right=np.nan)
    return np.asarray(found, dtype=np.float64)


def _left_ventricle(tracing: MmodeGrey, place: Place, rhythm: Rhythm | None) -> ImageReading:
    walls = _walls(tracing, place)
    beats = _in_step(rhythm, walls.cavity_px, place)
    beats = beats or _rhythm_of_tracing(tracing, walls.cavity_px, place)
    reading = measure_walls(_wall_rows(walls), beats, place)
    lines = _septum(walls) | {
        "free wall, endocardium": walls.endocardium.leading,
        "free wall, epicardium": walls.epicardium.leading,
    }
    if walls.is_ambiguous.any():
        lines["line before the free wall"] = walls.other_endocardium
    return ImageReading(
        measurements=reading.measurements,
        traces=_traces(lines, place),
        notes=reading.notes,
    )


def _mitral_valve(tracing: MmodeGrey, place: Place, rhythm: Rhythm | None) -> ImageReading:
    walls = _walls(tracing, place)
    leaflet = trace_leaflet(tracing, walls)
    left = walls.septum_left
    far = replace(left, leading=_far_side(left))
    gap = leaflet.leading - far.leading
    beats = _with_columns(rhythm) or _rhythm_of_tracing(tracing, gap, place)
    traces = _traces(_septum(walls) | {"anterior mitral leaflet": leaflet.leading}, place)
    try:
        room = walls.endocardium.leading - far.leading
        epss = measure_epss(_rows((far, leaflet)), beats, place, room)
    except TablesideError as error:
        return ImageReading(traces=traces, notes=(str(error),))
    return ImageReading(measurements=(epss,), traces=traces)


def _aorta_and_left_atrium(
    tracing: MmodeGrey, place: Place, rhythm: Rhythm | None
) -> ImageReading:
    region = place.region
    root = trace_root(tracing, cm_per_row=region.cm_per_row, s_per_column=region.s_per_column)
    named = {
        "aorta, anterior wall": root.anterior,
        "aorta, posterior wall": root.posterior,
        "left atrium, far wall": root.atrial,
    }
    traces = _traces({name: edge.leading for name, edge in named.items()}, place)
    by_ecg = _in_step(rhythm, root.posterior.leading, place)
    beats = by_ecg or _rhythm_of_tracing(tracing, root.posterior.leading, place)
    notes = () if by_ecg else (BY_MOTION,)
    try:
        found = measure_root_and_atrium(_rows(tuple(named.values())), beats, place)
    except TablesideError as error:
        return ImageReading(traces=traces, notes=(*notes, str(error)))
    if by_ecg is None:
        return ImageReading(measurements=found, traces=traces, notes=notes)
    try:
        found += (measure_ejection_time(root_inside(tracing, root), beats, place),)
    except TablesideError as error:
        return ImageReading(measurements=found, traces=traces, notes=(str(error),))
    return ImageReading(measurements=found, traces=traces)


def _annulus(
    quantity: str, tracing: MmodeGrey, place: Place, rhythm: Rhythm | None
) -> ImageReading:
    region = place.region
    annulus = trace_annulus(
        tracing, cm_per_row=region.cm_per_row, s_per_column=region.s_per_column
    )
    beats = _in_step(rhythm, annulus.leading, place)
    beats = beats or _rhythm_of_tracing(tracing, annulus.leading, place)
    name = "tricuspid annulus" if quantity == "TAPSE" else "mitral annulus"
    traces = _traces({name: annulus.leading}, place)
    try:
        found = measure_excursion(quantity, _rows((annulus,)), beats, place)
    except TablesideError as error:
        return ImageReading(traces=traces, notes=(str(error),))
    return ImageReading(measurements=(found,), traces=traces)


def _walls(tracing: MmodeGrey, place: Place) -> WallTrace:
    region = place.region
    return trace_walls(tracing, cm_per_row=region.cm_per_row, s_per_column=region.s_per_column)


def _septum(walls: WallTrace) -> dict[str, Floats]:
    return {
        "septum, right side": walls.septum_right.leading,
        "septum, left side": walls.septum_left.leading,
    }


def _far_side(interface: Interface) -> Floats:
    return interface.leading if interface.trailing is None else interface.trailing


def _with_columns(rhythm: Rhythm | None) -> Rhythm | None:
    """Return the rhythm if its R waves can be found on the picture."""
    usable = rhythm is not None and rhythm.source != "file" and len(rhythm.r_waves) > 1
    return rhythm if usable else None


def _in_step(rhythm: Rhythm | None, cavity: Floats, place: Place) -> Rhythm | None:
    """Return the rhythm if its R waves can be found and fit how the cavity moves."""
    usable = _with_columns(rhythm)
    if usable is None:
        return None
    step_s = place.region.s_per_column
    r_s = [(wave.column - place.left) * step_s for wave in usable.r_waves]
    moves_s = contractions(cavity, SHORTEST_S / step_s) * step_s
    return usable if is_in_step(r_s, moves_s.tolist()) else None


def _rhythm_of_tracing(tracing: MmodeGrey, cavity: Floats, place: Place) -> Rhythm:
    """Return beats by motion: each begins where the cavity is largest."""
    step_s = place.region.s_per_column
    try:
        beat_px = beat_length_s(tracing.grey, step_s) / step_s
    except NotMeasurable:
        moves = contractions(cavity, SHORTEST_S / step_s)
        if moves.size < FEWEST_MOVES:
            raise
        beat_px = float(np.median(np.diff(moves)))
    columns = place.left + beat_starts(cavity, beat_px)
    waves = tuple(
        RWave(column=float(x), time_s=place.region.seconds_from_left(float(x)), sd_s=0.02)
        for x in columns
    )
    return Rhythm(r_waves=waves, source="tracing")


def _rows(edges: Sequence[Interface]) -> EdgeRows:
    return EdgeRows(
        rows=np.stack([edge.leading for edge in edges]),
        sd=SD_FACTOR * np.stack([edge.sd_px for edge in edges]),
        clear=np.stack([edge.trusted for edge in edges]),
    )


def _wall_rows(walls: WallTrace) -> WallRows:
    """Return the four leading edges, then the far side of the septum's left surface."""
    wider = SEPTUM_SD_FACTOR / SD_FACTOR
    right, left = (
        replace(edge, sd_px=wider * edge.sd_px)
        for edge in (walls.septum_right, walls.septum_left)
    )
    far = replace(left, leading=_far_side(left))
    if walls.line_cm is None:
        unknown_px = UNKNOWN_LINE_CM / walls.cm_per_row
        left = replace(left, sd_px=np.hypot(left.sd_px, unknown_px))
    edges = (right, left, walls.endocardium, walls.epicardium, far)
    return WallRows(lines=_rows(edges), second=walls.other_endocardium)


def _traces(lines: Mapping[str, Floats], place: Place) -> tuple[Trace, ...]:
    return tuple(_trace(name, line, place) for name, line in lines.items())


def _trace(name: str, line: Floats, place: Place) -> Trace:
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


LEVELS: dict[str, Callable[[MmodeGrey, Place, Rhythm | None], ImageReading]] = {
    "left ventricle": _left_ventricle,
    "mitral valve": _mitral_valve,
    "aorta and left atrium": _aorta_and_left_atrium,
    "tricuspid annulus": partial(_annulus, "TAPSE"),
    "mitral annulus": partial(_annulus, "MAPSE"),
}
