"""How far the annulus of a valve travels to the apex in systole: TAPSE and MAPSE."""

from collections.abc import Iterator
from math import hypot

from tableside.errors import NotMeasurable
from tableside.measure.average import average
from tableside.measure.curves import local_fit, lowest
from tableside.measure.moment import (
    CLEAR_SHARE,
    UNCLEAR,
    BeatSpan,
    EdgeRows,
    Moment,
    Place,
    beat_spans,
)
from tableside.model import Beat, Measurement, Rhythm

SYSTOLE_S = (0.05, 0.45)  # the annulus turns back after the R wave: not before, not after
SYSTOLE_SHARE = 0.8  # of the beat
FIT_D_S, FIT_S_S = 0.020, 0.030
TIMING_SD_S = 0.014


def measure_excursion(
    quantity: str, annulus: EdgeRows, rhythm: Rhythm, place: Place
) -> Measurement:
    """Measure the excursion of an annulus over all complete beats.

    Parameters
    ----------
    quantity : str
        ``TAPSE`` or ``MAPSE``.
    annulus : EdgeRows
        One line that moves with the annulus.
    rhythm : Rhythm
    place : Place

    Raises
    ------
    NotMeasurable
        When there is no complete beat, or the annulus is clear in none.

    Notes
    -----
    The depth at the onset of the QRS less the smallest depth of the beat, on the same line.
    """
    beats = list(_beats(annulus, rhythm, place))
    if not beats:
        raise NotMeasurable(
            f"{quantity}: the tracing holds no complete beat from R wave to R wave; store a "
            "longer sweep"
        )
    return average(
        quantity, beats, method="automatic", scale_sd=place.scale_sd, scale=place.scale
    )


def _beats(annulus: EdgeRows, rhythm: Rhythm, place: Place) -> Iterator[Beat]:
    for span in beat_spans(rhythm, place, annulus.rows.shape[1]):
        step_s = place.region.s_per_column
        nearest = _nearest_column(annulus, span, step_s)
        yield _beat(
            Moment(annulus, span.onset, FIT_D_S / step_s, span.onset_sd, place),
            Moment(annulus, nearest, FIT_S_S / step_s, TIMING_SD_S / step_s, place),
            span.wave.reason,
        )


def _nearest_column(annulus: EdgeRows, span: BeatSpan, step_s: float) -> float:
    beat_s = (span.next_r - span.r) * step_s
    first_s = min(SYSTOLE_S[0], 0.25 * beat_s)
    last_s = min(SYSTOLE_S[1], SYSTOLE_SHARE * beat_s)
    return lowest(
        annulus.rows[0],
        span.r + first_s / step_s,
        span.r + last_s / step_s,
        FIT_S_S / step_s,
    )


def _beat(diastole: Moment, systole: Moment, reason: str | None) -> Beat:
    place = diastole.place
    points = tuple(
        (place.left + one.column, place.top + one.row(0)) for one in (diastole, systole)
    )
    clear = min(float(one.lines.clear[0, one.around].mean()) for one in (diastole, systole))
    if reason is None and clear < CLEAR_SHARE:
        reason = UNCLEAR
    return Beat(
        file=place.file,
        frame=place.frame,
        value=(points[0][1] - points[1][1]) * place.region.cm_per_row,
        sd=hypot(*(_sd_cm(one) for one in (diastole, systole))),
        time_s=place.region.seconds_from_left(points[0][0]),
        points=points,
        used=reason is None,
        reason=reason,
    )


def _sd_cm(moment: Moment) -> float:
    """Return the spread of one depth: the line, and when it is read."""
    sd_px = float(moment.lines.sd[0, moment.around].mean())
    fit = local_fit(moment.lines.rows[0], moment.column, moment.half_width)
    moved = fit.rate(moment.column) * moment.column_sd
    bent = 2 * fit.bend * moment.column_sd**2
    return hypot(sd_px, moved, bent) * moment.place.region.cm_per_row
