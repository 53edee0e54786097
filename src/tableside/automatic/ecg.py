"""The beats of an image, from the electrocardiogram drawn in it or from the file itself.

A still is read as it is; of a cine give the last frame, on which the strip is longest.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tableside.automatic import ImageReading
from tableside.errors import NotMeasurable, TablesideError
from tableside.imaging.beats import BeatOptions, classify_beats, find_r_peaks
from tableside.imaging.ecg import EcgLine, EcgOptions, line_mask, trace_ecg
from tableside.imaging.types import Bools, Pixels
from tableside.measure.rhythm import heart_rate
from tableside.model import Image, Point, Region, RegionKind, Rhythm, RWave, Trace

TRACINGS = (RegionKind.M_MODE, RegionKind.COLOUR_M_MODE, RegionKind.SPECTRAL)
LEAST_WIDTH_PX = 40  # an ECG region narrower than this holds no beat
MARGIN_PX = 12  # the line may leave its own region by this much
BELOW = 0.2  # of the height of a tracing, below which its line may hang
BASELINE_PX = 2.5  # a line that rests this near to zero velocity is the baseline itself
MOST_POINTS = 400
LINE = "electrocardiogram"


@dataclass(frozen=True, slots=True)
class _Strip:
    """Where the line is looked for, and the region that gives its seconds."""

    region: Region
    box: tuple[int, int, int, int]  # left, top, right, bottom; the last two exclusive


def read_ecg(image: Image, pixels: Pixels) -> tuple[Rhythm | None, ImageReading]:
    """Find the R waves and the heart rate of one image.

    Parameters
    ----------
    image : Image
    pixels : (rows, columns, 3) or (rows, columns)
        The picture; of a cine its last frame.

    Returns
    -------
    rhythm : Rhythm or None
        R waves in columns of the image; from the file's own times when the picture shows
        none, and then the columns are 0. None when neither has any.
    reading : ImageReading
        Heart rate, the line as a trace, and why something is missing.
    """
    try:
        return _from_picture(image, pixels)
    except NotMeasurable as error:
        if len(image.r_wave_times_s) > 1:
            return _from_file(image)
        return None, ImageReading(notes=(f"{image.file}: {error}",))


def _from_picture(image: Image, pixels: Pixels) -> tuple[Rhythm, ImageReading]:
    strip = _find_strip(image)
    left, top, right, bottom = strip.box
    line = _follow(pixels[top:bottom, left:right], strip.region)
    if _is_baseline(image, top + float(np.median(line.row[line.seen]))):
        raise NotMeasurable("no electrocardiogram was found beside the flow's own baseline")
    per_column = strip.region.s_per_column
    peaks = find_r_peaks(-line.row, per_column)
    start = (image.region(*TRACINGS) or strip.region).box[0]
    times = [(left + float(column) - start) * per_column for column in peaks.column]
    classes, note = classify_beats(times, [float(x) for x in peaks.likeness])
    reasons = _with_breaks(classes, [float(x) for x in peaks.column], line.breaks)
    waves = tuple(
        RWave(column=left + float(column), time_s=time, sd_s=float(sd) * per_column, reason=why)
        for column, time, sd, why in zip(peaks.column, times, peaks.sd_px, reasons, strict=True)
    )
    seen = tuple(
        (float(left + column), top + float(line.row[column]))
        for column in np.flatnonzero(line.seen)
    )
    rhythm = Rhythm(r_waves=waves, source="ecg", line=seen)
    rows = [top + float(line.row[round(column)]) for column in peaks.column]
    tops = [(wave.column, row) for wave, row in zip(waves, rows, strict=True)]
    shown = ImageReading(
        traces=(
            Trace(
                file=image.file,
                frame=image.frames - 1,
                name=LINE,
                points=_points(line, left, top),
            ),
        ),
        notes=(f"{image.file}: {note}",) if note else (),
    )
    return rhythm, _with_rate(shown, image, rhythm, tops, strip.region)


def _is_baseline(image: Image, row: float) -> bool:
    """Return whether a line rests where the velocity of a spectrum is zero."""
    region = image.region(RegionKind.SPECTRAL)
    if region is None or region.y is None:
        return False
    return abs(row - region.baseline_row) <= BASELINE_PX


def electrocardiogram(found: ImageReading) -> Trace | None:
    """Return the drawn line that `read_ecg` followed, which hides what lies behind it."""
    return next((one for one in found.traces if one.name == LINE), None)


def ecg_mask(rhythm: Rhythm | None, shape: tuple[int, int]) -> Bools:
    """Return the pixels of an image that the drawn electrocardiogram covers.

    Parameters
    ----------
    rhythm : Rhythm or None
        As `read_ecg` gave it; without a line nothing is covered.
    shape : (rows, columns)
        Of the image.
    """
    row, seen = np.zeros(shape[1]), np.zeros(shape[1], dtype=bool)
    for x, y in rhythm.line if rhythm is not None else ():
        row[int(x)], seen[int(x)] = y, True
    if not seen.any():
        return np.zeros(shape, dtype=bool)
    known = np.flatnonzero(seen)
    row = np.interp(np.arange(shape[1]), known, row[known])
    return line_mask(EcgLine(row, seen, (), 0.0), shape)


def _from_file(image: Image) -> tuple[Rhythm, ImageReading]:
    times = image.r_wave_times_s
    reasons, note = classify_beats(times, [1.0] * len(times))
    waves = tuple(
        RWave(column=0.0, time_s=time, sd_s=0.005, reason=why)
        for time, why in zip(times, reasons, strict=True)
    )
    rhythm = Rhythm(r_waves=waves, source="file")
    shown = ImageReading(notes=(f"{image.file}: {note}",) if note else ())
    return rhythm, _with_rate(shown, image, rhythm)


def _with_rate(
    shown: ImageReading,
    image: Image,
    rhythm: Rhythm,
    tops: Sequence[Point] = (),
    region: Region | None = None,
) -> ImageReading:
    """Return the reading with the heart rate, or with why there is none."""
    try:
        rate = heart_rate(image, rhythm, tops, region)
    except TablesideError as error:
        return replace(shown, notes=(*shown.notes, f"{image.file}: {error}"))
    return replace(shown, measurements=(rate,))


def _find_strip(image: Image) -> _Strip:
    """Return the calibrated ECG region, else the tracing that carries the line."""
    strips = [one for one in image.regions if one.kind is RegionKind.ECG and _has_time(one)]
    if strips:
        region = max(strips, key=lambda one: one.width)
        return _Strip(region, _box(image, region, MARGIN_PX, MARGIN_PX))
    tracing = image.region(*TRACINGS)
    if tracing is not None and _has_time(tracing):
        below = int(BELOW * tracing.height)
        return _Strip(tracing, _box(image, tracing, 0, below))
    raise NotMeasurable("no heart rate: the electrocardiogram here has no time scale")


def _has_time(region: Region) -> bool:
    usable = region.doubt is None and region.width >= LEAST_WIDTH_PX
    return usable and region.x is not None and region.x.unit == "s"


def _box(image: Image, region: Region, above: int, below: int) -> tuple[int, int, int, int]:
    left, top, right, bottom = region.box
    inset = 1 if region.kind in TRACINGS else 0  # many machines frame their tracings
    return (
        max(0, left + inset),
        max(0, top - above),
        min(image.columns, right + 1 - inset),
        min(image.rows, bottom + 1 + below),
    )


def _follow(band: Pixels, region: Region) -> EcgLine:
    """Trace the line; in a region of its own it may also be white."""
    try:
        return trace_ecg(band, EcgOptions())
    except NotMeasurable:
        if region.kind is not RegionKind.ECG or band.ndim == 2:
            raise
        return trace_ecg(band.max(axis=2), EcgOptions())


def _with_breaks(
    reasons: Sequence[str | None], columns: Sequence[float], breaks: Sequence[int]
) -> list[str | None]:
    """Mark the beat in which the sweep starts anew: its interval is no interval."""
    marked = list(reasons)
    for i, column in enumerate(columns):
        following = columns[i + 1] if i + 1 < len(columns) else float("inf")
        if any(column < at <= following for at in breaks):
            marked[i] = "the sweep starts anew within this beat"
    return marked


def _points(line: EcgLine, left: int, top: int) -> tuple[Point, ...]:
    step = max(1, -(-line.row.size // MOST_POINTS))
    return tuple(
        (float(left + i), top + float(line.row[i])) for i in range(0, line.row.size, step)
    )


__all__ = ["BeatOptions", "EcgOptions", "ecg_mask", "read_ecg"]
