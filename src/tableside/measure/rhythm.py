"""Heart rate from R waves."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import hypot
from statistics import fmean

from tableside.errors import NotMeasurable
from tableside.measure.average import average
from tableside.model import Beat, Image, Measurement, Point, Region, Rhythm, RWave

CLOCK_SD = 0.001  # relative error of times that a file states; common practice


def heart_rate(
    image: Image, rhythm: Rhythm, tops: Sequence[Point] = (), region: Region | None = None
) -> Measurement:
    """Return the heart rate: 60 over the mean interval of the beats that may be used.

    Parameters
    ----------
    image : Image
        The image the R waves were found on.
    rhythm : Rhythm
    tops : sequence of Point
        Pixel of every R wave; empty when the times come from the file.
    region : Region or None
        The region whose seconds were used; None for times from the file.

    Raises
    ------
    NotMeasurable
        With fewer than two R waves, or no interval between two usable beats.
    OutOfRange
        When the rate is none that a dog or cat has.

    Notes
    -----
    An interval that ends in a premature beat is too short and is left out, like the beats
    that carry a reason themselves.
    """
    waves = rhythm.r_waves
    if len(waves) < 2:
        raise NotMeasurable("HR: one R wave only; a heart rate needs two, store a longer strip")
    pairs = list(pairwise(tops)) if tops else [()] * (len(waves) - 1)
    beats = [
        _interval(image, pair, points)
        for pair, points in zip(pairwise(waves), pairs, strict=True)
    ]
    found = average(
        "HR",
        beats,
        method="automatic",
        scale_sd=CLOCK_SD if region is None or region.x is None else region.x.relative_sd,
        scale=f"{image.file}#{region.index}" if region else None,
        detail="times in the file" if rhythm.source == "file" else None,
    )
    used = [beat.value for beat in beats if beat.used]
    return replace(found, value=1.0 / fmean(1.0 / value for value in used))


def _interval(image: Image, pair: tuple[RWave, RWave], points: tuple[Point, ...]) -> Beat:
    start, end = pair
    rr_s = end.time_s - start.time_s
    reason = start.reason
    if reason is None and end.reason == "premature beat":
        reason = "interval before a premature beat"
    return Beat(
        file=image.file,
        frame=image.frames - 1,
        value=60.0 / rr_s,
        sd=60.0 / rr_s**2 * hypot(start.sd_s, end.sd_s),
        time_s=start.time_s,
        points=points,
        used=reason is None,
        reason=reason,
    )
