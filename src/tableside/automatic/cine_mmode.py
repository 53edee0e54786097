"""An M-mode along any line of a 2-D cine: the cursor that can still be put right afterwards.

Depth along the line is as good as the picture's own scale. Time is as coarse as the frames:
between two of them a wall goes unseen, and that enters the spread.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from tableside.errors import NotMeasurable, TablesideError
from tableside.imaging.line_profile import grey_along, line_samples
from tableside.imaging.types import Floats, Pixels
from tableside.imaging.walls import WallTrace, trace_walls
from tableside.measure.average import average
from tableside.measure.caliper_regions import caliper_region
from tableside.measure.caliper_rules import PICTURE
from tableside.model import Axis, Beat, Image, Measurement, Point, Region, RegionKind, Trace

DETAIL = "m-mode from a cine"
COLUMN_S = 0.005  # the picture's columns; between frames grey is interpolated
FEWEST_FRAMES = 8
WHOLE_BEAT = 0.8  # of a beat, from which a stretch of the clip counts as one
CLEAR_SHARE = 0.5  # of the columns


@dataclass(frozen=True, slots=True, kw_only=True)
class CineMMode:
    """What the line shows over all frames.

    ``picture`` is (depth, time), ``region`` its calibration; ``traces`` are in its pixels.
    ``measurements`` have their points on the frames of the cine. ``frame_s`` is the usual time
    between frames; ``notes`` say what that limits, and what could not be traced.
    """

    picture: Pixels
    region: Region
    frame_s: float
    traces: tuple[Trace, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Line:
    """The line on the cine and its samples over time."""

    image: Image
    start: Point
    end: Point
    times_s: Floats  # of the frames
    cm_per_row: float
    scale: str
    scale_sd: float
    grey: Floats  # (rows, frames)

    def point(self, row: float) -> Point:
        """Return where a row of the M-mode lies on the cine."""
        share = row / (self.grey.shape[0] - 1)
        x = self.start[0] + share * (self.end[0] - self.start[0])
        y = self.start[1] + share * (self.end[1] - self.start[1])
        return x, y


def cine_mmode(image: Image, frames: Iterable[Pixels], line: tuple[Point, Point]) -> CineMMode:
    """Make the M-mode along a line of a cine and trace the left ventricle on it.

    Parameters
    ----------
    image : Image
        With a scale in both directions and the times of its frames.
    frames : iterable of (rows, columns) or (rows, columns, 3)
        All its frames in order; one at a time is held.
    line : two points
        Pixel centres, from the probe to the depth.

    Raises
    ------
    NotMeasurable
        When the clip is too short, has no times or no scale, or the line leaves the picture.
    """
    sampled = _sample(image, frames, line)
    columns = np.arange(0.0, sampled.times_s[-1] + 1e-9, COLUMN_S)
    rows = [np.interp(columns, sampled.times_s, row) for row in sampled.grey]
    picture = np.rint(np.stack(rows)).clip(0, 255).astype(np.uint8)
    frame_s = float(np.median(np.diff(sampled.times_s)))
    region = _region(picture, sampled)
    limit = (
        f"{1 / frame_s:.0f} frames a second: what moves between two frames, "
        f"{1000 * frame_s:.0f} ms apart, is not seen; this is part of the stated spread"
    )
    try:
        walls = trace_walls(picture, cm_per_row=sampled.cm_per_row, s_per_column=COLUMN_S)
    except TablesideError as error:
        notes = (limit, f"no walls were traced along this line: {error}")
        return CineMMode(picture=picture, region=region, frame_s=frame_s, notes=notes)
    found, why_not = _measure(walls, sampled)
    return CineMMode(
        picture=picture,
        region=region,
        frame_s=frame_s,
        traces=tuple(_traces(walls, image.file)),
        measurements=found,
        notes=(limit, *why_not),
    )


def _sample(image: Image, frames: Iterable[Pixels], line: tuple[Point, Point]) -> _Line:
    start, end = line
    times = np.asarray(image.frame_times_s, np.float64)
    if image.frames < FEWEST_FRAMES:
        raise NotMeasurable(
            f"the clip has {image.frames} frames; an M-mode needs at least {FEWEST_FRAMES}"
        )
    if times.size != image.frames or np.any(np.diff(times) <= 0):
        raise NotMeasurable("the file does not say when its frames were taken")
    region = caliper_region(image, line, PICTURE)
    samples = line_samples(start, end)
    grey = np.stack([grey_along(frame, samples) for frame in frames], axis=1)
    if grey.shape[1] != image.frames:
        raise NotMeasurable("not every frame of the clip could be decoded")
    scale_sd = max(axis.relative_sd for axis in (region.x, region.y) if axis is not None)
    return _Line(
        image=image,
        start=start,
        end=end,
        times_s=times - times[0],
        cm_per_row=region.length_cm(start, end) / (len(samples) - 1),
        scale=f"{image.file}#{region.index}",
        scale_sd=scale_sd,
        grey=grey,
    )


def _region(picture: Pixels, sampled: _Line) -> Region:
    rows, columns = picture.shape
    return Region(
        index=0,
        kind=RegionKind.M_MODE,
        box=(0, 0, columns - 1, rows - 1),
        x=Axis(unit="s", per_pixel=COLUMN_S),
        y=Axis(unit="cm", per_pixel=sampled.cm_per_row, relative_sd=sampled.scale_sd),
    )


def _measure(
    walls: WallTrace, sampled: _Line
) -> tuple[tuple[Measurement, ...], tuple[str, ...]]:
    """Return the cavity where it is largest and smallest in each beat of the clip."""
    clear = (walls.septum_left.trusted & walls.endocardium.trusted).mean()
    if clear < CLEAR_SHARE:
        return (), ("the walls are not clear along this line; nothing was measured",)
    found: list[Measurement] = []
    notes: list[str] = []
    for quantity, is_largest in (("LVIDd", True), ("LVIDs", False)):
        beats = [_beat(walls, sampled, one, is_largest) for one in _stretches(sampled)]
        try:
            found.append(
                average(
                    quantity,
                    beats,
                    method="automatic",
                    scale_sd=sampled.scale_sd,
                    convention="leading edge",
                    detail=DETAIL,
                    scale=sampled.scale,
                )
            )
        except TablesideError as error:
            notes.append(str(error))
    return tuple(found), tuple(notes)


def _stretches(sampled: _Line) -> Iterator[tuple[int, int]]:
    """Yield first and last frame of every beat of the clip; all of it where none is known."""
    times, image = sampled.times_s, sampled.image
    beat_s = 60 / image.stated_heart_rate if image.stated_heart_rate else float(times[-1])
    count = max(1, int((times[-1] + (1 - WHOLE_BEAT) * beat_s) / beat_s))
    for number in range(count):
        inside = np.flatnonzero((times >= number * beat_s) & (times < (number + 1) * beat_s))
        if inside.size >= FEWEST_FRAMES // 2:
            yield int(inside[0]), int(inside[-1])


def _beat(walls: WallTrace, sampled: _Line, span: tuple[int, int], is_largest: bool) -> Beat:
    """Read the cavity on the frame where it is largest or smallest."""
    at = np.rint(sampled.times_s / COLUMN_S).astype(np.int64)
    at = at.clip(0, walls.cavity_px.size - 1)
    cavity = walls.cavity_px[at] * sampled.cm_per_row
    first, last = span
    inside = cavity[first : last + 1]
    frame = first + int(inside.argmax() if is_largest else inside.argmin())
    column = int(at[frame])
    edges = (walls.septum_left, walls.endocardium)
    edge_cm = float(np.hypot(*(edge.sd_px[column] for edge in edges))) * sampled.cm_per_row
    return Beat(
        file=sampled.image.file,
        frame=frame,
        value=float(cavity[frame]),
        sd=float(np.hypot(edge_cm, _missed_cm(cavity, frame))),
        time_s=float(sampled.times_s[frame]),
        points=tuple(sampled.point(float(edge.leading[column])) for edge in edges),
    )


def _missed_cm(cavity: Floats, frame: int) -> float:
    """Return how much of an extreme may lie between frames.

    A parabola through three frames with second difference d has its top up to d/8 beyond the
    middle one (half a frame away).
    """
    inner = min(max(frame, 1), cavity.size - 2)
    return abs(float(cavity[inner - 1] - 2 * cavity[inner] + cavity[inner + 1])) / 8


def _traces(walls: WallTrace, file: str) -> Iterator[Trace]:
    named = {
        "septum, right side": walls.septum_right,
        "septum, left side": walls.septum_left,
        "free wall, endocardium": walls.endocardium,
        "free wall, epicardium": walls.epicardium,
    }
    for name, edge in named.items():
        points = tuple(
            (float(column), float(row))
            for column, row in enumerate(edge.leading)
            if np.isfinite(row)
        )
        yield Trace(file=file, frame=0, name=name, points=points)
