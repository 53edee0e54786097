"""Ejection time on the M-mode of the aorta: from the opening of the cusps to their closure."""

from collections.abc import Iterator
from dataclasses import replace
from math import hypot
from statistics import median

import numpy as np

from tableside.errors import NotMeasurable
from tableside.measure.average import average
from tableside.measure.curves import Floats, averaged
from tableside.measure.moment import BeatSpan, Place, beat_spans
from tableside.model import Beat, Measurement, Rhythm

MIDDLE = (0.35, 0.80)  # where the shut cusps may lie, as a share of the root
BAND = 0.02  # of the root, half the height of the line that they draw
DIASTOLE_S = (-0.09, -0.02)  # about the R wave: the cusps are shut
SYSTOLE_S = (0.06, 0.12)  # and here they are open
OPENING_S = (-0.01, 0.14)  # after R the valve opens: not before, not after
SHORTEST_S, LONGEST_S = 0.07, 0.30
LEAST_STEP = 0.15  # of the grey range within the root: less is no line
SHARP_S = 0.015  # before and after it the line is gone, or is back
SMOOTH_S = 0.004
HALF_MOVE_S = 0.003  # the line leaves its place this long after the cusps began to part
TIMING_SD_S = 0.007
MOST_CHANGE = 0.2  # of the ejection time, from the usual beat to any
UNLIKE = "the cusps were not clear in this beat: its ejection time is unlike the others"


def measure_ejection_time(inside: Floats, rhythm: Rhythm, place: Place) -> Measurement:
    """Measure the ejection time over all complete beats in which the cusps are seen.

    Parameters
    ----------
    inside : (rows, columns)
        Grey between the walls of the root, from the anterior one to the posterior.
    rhythm : Rhythm
    place : Place

    Raises
    ------
    NotMeasurable
        When the cusps are clear in no beat.

    Notes
    -----
    Shut cusps are a line in the middle of the root; open ones leave the middle dark. The
    moments are those at which the middle is half as bright.
    """
    step_s = place.region.s_per_column
    spans = list(beat_spans(rhythm, place, inside.shape[1]))
    middle = _middle_line(inside, spans, step_s)
    least = LEAST_STEP * float(np.percentile(inside, 97) - np.percentile(inside, 3))
    beats = _alike(list(_beats(middle, least, spans, place)))
    if not any(beat.used for beat in beats):
        raise NotMeasurable("ET: the cusps of the aortic valve cannot be seen on this tracing")
    return average(
        "ET", beats, method="automatic", scale_sd=0.0, detail="m-mode", scale=place.scale
    )


def _middle_line(inside: Floats, spans: list[BeatSpan], step_s: float) -> Floats:
    """Return how bright the line of the shut cusps is in every column."""
    height = inside.shape[0]
    shut = np.zeros(inside.shape[1], dtype=np.bool_)
    for span in spans:
        shut[_columns(span.r, DIASTOLE_S, step_s, inside.shape[1])] = True
    if not shut.any():
        raise NotMeasurable("ET: the tracing holds no complete beat; store a longer sweep")
    first, last = (round(share * height) for share in MIDDLE)
    row = first + int(inside[first:last, shut].mean(axis=1).argmax())
    half = max(1, round(BAND * height))
    return averaged(inside[row - half : row + half + 1].mean(axis=0), SMOOTH_S / step_s)


def _beats(middle: Floats, least: float, spans: list[BeatSpan], place: Place) -> Iterator[Beat]:
    step_s = place.region.s_per_column
    for span in spans:
        moments = _opening_and_closure(middle, least, span.r, step_s)
        if moments is None:
            continue
        opening, closure = moments
        yield Beat(
            file=place.file,
            frame=place.frame,
            value=1000 * ((closure - opening) * step_s + 2 * HALF_MOVE_S),
            sd=1000 * hypot(TIMING_SD_S, TIMING_SD_S, step_s / 2),
            time_s=place.region.seconds_from_left(place.left + opening),
            used=span.wave.reason is None,
            reason=span.wave.reason,
        )


def _alike(beats: list[Beat]) -> list[Beat]:
    """Set aside the beats far from the usual one: another fall or rise was taken in them."""
    used = [beat.value for beat in beats if beat.used]
    usual = median(used) if used else 0.0
    return [
        replace(beat, used=False, reason=UNLIKE)
        if beat.used and abs(beat.value - usual) > MOST_CHANGE * usual
        else beat
        for beat in beats
    ]


def _opening_and_closure(
    middle: Floats, least: float, r: float, step_s: float
) -> tuple[float, float] | None:
    """Return the columns at which the line goes and comes back; None where it does not."""
    shut = middle[_columns(r, DIASTOLE_S, step_s, middle.size)]
    wide = middle[_columns(r, SYSTOLE_S, step_s, middle.size)]
    if not shut.size or not wide.size or np.median(shut) - np.median(wide) < least:
        return None
    low, high = float(np.median(wide)), float(np.median(shut))
    falls = _sharp_crossings(-middle, (-high, -low), step_s)
    rises = _sharp_crossings(middle, (low, high), step_s)
    seconds = (falls - r) * step_s
    falls = falls[(seconds > OPENING_S[0]) & (seconds < OPENING_S[1])]
    if not falls.size:
        return None
    lasts = (rises - falls[-1]) * step_s
    rises = rises[(lasts > SHORTEST_S) & (lasts < LONGEST_S)]
    return (float(falls[-1]), float(rises[0])) if rises.size else None


def _sharp_crossings(line: Floats, levels: tuple[float, float], step_s: float) -> Floats:
    """Return where a line rises through the middle of two levels, from one to the other.

    A line that comes back slowly was not seen for a while; the cusps were shut before.
    """
    low, high = levels
    half, part = (low + high) / 2, (high - low) / 4
    reach = max(1, round(SHARP_S / step_s))
    found = _crossings(line - half)
    before = np.clip(np.round(found - reach).astype(np.int64), 0, line.size - 1)
    after = np.clip(np.round(found + reach).astype(np.int64), 0, line.size - 1)
    return found[(line[before] < half - part) & (line[after] > half + part)]


def _crossings(line: Floats) -> Floats:
    """Return where a line rises through zero, between columns."""
    at = np.flatnonzero((line[:-1] < 0) & (line[1:] >= 0))
    return np.asarray(at + line[at] / (line[at] - line[at + 1]), dtype=np.float64)


def _columns(r: float, span_s: tuple[float, float], step_s: float, width: int) -> slice:
    first, last = (round(r + at / step_s) for at in span_s)
    return slice(max(first, 0), max(min(last + 1, width), 0))
