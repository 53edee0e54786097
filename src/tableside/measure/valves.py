"""Mitral valve, aortic root and left atrium from traced M-modes."""

from collections.abc import Iterator, Sequence
from statistics import median

import numpy as np

from tableside.errors import NotMeasurable
from tableside.measure.average import average
from tableside.measure.curves import Floats, lowest
from tableside.measure.moment import BeatSpan, EdgeRows, Moment, Place, beat_spans
from tableside.model import Beat, Measurement, Rhythm

E_POINT_S = (0.12, 0.62)  # the E point after the R wave: not before, not after
E_POINT_SHARE = (0.35, 0.85)  # of the beat, likewise
MOST_OF_ROOM = 0.5  # of the cavity; the anterior leaflet opens nearer to the septum
OPENING_S = 0.25  # the E point comes no later after the valve begins to open
FUSED_S = 0.03  # before the next R wave a valve that opened once has begun to close
ATRIAL_S = 0.085  # before the next R wave the valve opens for the atrium
FIT_E_S, FIT_S_S, FIT_D_S = 0.012, 0.030, 0.020
TIMING_SD_S = 0.014
SHORT_BEAT = 0.75  # of the usual beat: the next one begins before the valve is open
MOST_CHANGE = 0.25  # of the aorta, from its usual size to any beat's
LIKELY_RATIO = (0.5, 4.5)  # atrium over aorta; none is known beyond (memory)
CUT_SHORT = "the next beat begins before the valve has opened fully"
NO_BEAT = "the tracing holds no complete beat from R wave to R wave; store a longer sweep"


def measure_epss(lines: EdgeRows, rhythm: Rhythm, place: Place, room: Floats) -> Measurement:
    """Measure the gap between septum and anterior leaflet at the E point, over the beats.

    Parameters
    ----------
    lines : EdgeRows
        The surface of the septum's left side, then the anterior leaflet.
    rhythm : Rhythm
    place : Place
    room : (columns,)
        Rows from the septum to the free wall.

    Raises
    ------
    NotMeasurable
        When there is no complete beat, the leaflet is not clear in any, or it never comes
        nearer to the septum than to the free wall.

    Notes
    -----
    The E point is where the leaflet comes nearest to the probe in early diastole, before the
    atrium contracts; the septum is read at the same moment.
    """
    beats = list(_gaps(lines, rhythm, place))
    if not beats:
        raise NotMeasurable(f"EPSS: {NO_BEAT}")
    epss = average(
        "EPSS", beats, method="automatic", scale_sd=place.scale_sd, scale=place.scale
    )
    room_cm = float(np.median(room)) * place.region.cm_per_row
    if epss.value > MOST_OF_ROOM * room_cm:
        raise NotMeasurable(
            f"EPSS: the traced leaflet stays {epss.value:.1f} cm from the septum in a cavity "
            f"of {room_cm:.1f} cm; the posterior leaflet may have been followed. Measure by "
            "caliper"
        )
    return epss


def _gaps(lines: EdgeRows, rhythm: Rhythm, place: Place) -> Iterator[Beat]:
    step_s = place.region.s_per_column
    leaflet = lines.rows[1]
    half = FIT_E_S / step_s
    shortest_s = SHORT_BEAT * median(rhythm.rr_s) if rhythm.rr_s else 0.0
    for span in beat_spans(rhythm, place, leaflet.size):
        beat_s = (span.next_r - span.r) * step_s
        start_s, end_s = _e_window(beat_s, rhythm.source == "tracing")
        first, last = span.r + start_s / step_s, span.r + end_s / step_s
        reason = span.wave.reason
        if beat_s < shortest_s or last < first + 4:
            reason, last = reason or CUT_SHORT, max(last, first + 4)
        column = lowest(leaflet, first, last, half)
        if column > last - 1:  # E and A are one: the valve opens until the next beat
            last = span.next_r - FUSED_S / step_s
            column = lowest(leaflet, first, last, half)
            reason = reason or (CUT_SHORT if column > last - 1 else None)
        yield Moment(lines, column, half, 0.0, place).read((0, 1), reason)


def _e_window(beat_s: float, is_by_motion: bool) -> tuple[float, float]:
    """Return when the E point may come, in seconds after the start of the beat.

    By the motion of the leaflet alone a beat starts where the valve begins to open.
    """
    if is_by_motion:
        return 0.0, min(OPENING_S, E_POINT_SHARE[1] * beat_s)
    start_s = min(E_POINT_S[0], E_POINT_SHARE[0] * beat_s)
    return start_s, min(E_POINT_S[1], E_POINT_SHARE[1] * beat_s, beat_s - ATRIAL_S)


def measure_root_and_atrium(
    lines: EdgeRows, rhythm: Rhythm, place: Place
) -> tuple[Measurement, ...]:
    """Measure aortic root and left atrium, leading edge to leading edge.

    Parameters
    ----------
    lines : EdgeRows
        Anterior and posterior wall of the aortic root, then the far wall of the left atrium.
    rhythm : Rhythm
    place : Place

    Returns
    -------
    tuple of Measurement
        ``Ao`` at the onset of the QRS and ``LA`` at its largest.

    Raises
    ------
    NotMeasurable
        When there is no complete beat.
    """
    step_s = place.region.s_per_column
    atrium = lines.rows[2] - lines.rows[1]
    aortas: list[Beat] = []
    atria: list[Beat] = []
    for span in beat_spans(rhythm, place, atrium.size):
        diastole = Moment(lines, span.onset, FIT_D_S / step_s, span.onset_sd, place)
        aortas.append(diastole.read((0, 1), span.wave.reason))
        largest = _largest(atrium, span, step_s)
        systole = Moment(lines, largest, FIT_S_S / step_s, TIMING_SD_S / step_s, place)
        atria.append(systole.read((1, 2), span.wave.reason))
    if not aortas:
        raise NotMeasurable(f"Ao and LA: {NO_BEAT}")
    _require_steady([beat.value for beat in aortas if beat.used])
    _require_alike(aortas, atria)
    return tuple(
        average(
            quantity,
            beats,
            method="automatic",
            scale_sd=place.scale_sd,
            scale=place.scale,
            convention="leading edge",
            detail="m-mode",
        )
        for quantity, beats in (("Ao", aortas), ("LA", atria))
    )


def _require_steady(aortas: Sequence[float]) -> None:
    """Raise where the aorta changes from beat to beat by more than an aorta can."""
    if not aortas:
        return
    usual = median(aortas)
    if max(abs(value - usual) for value in aortas) > MOST_CHANGE * usual:
        raise NotMeasurable(
            f"Ao and LA: the traced aorta goes from {min(aortas):.1f} to {max(aortas):.1f} cm "
            "between beats, so another line was followed in some; measure by caliper"
        )


def _require_alike(aortas: Sequence[Beat], atria: Sequence[Beat]) -> None:
    """Raise where the atrium is no multiple of the aorta that a living animal has."""
    pairs = [
        (a.value, b.value) for a, b in zip(aortas, atria, strict=True) if a.used and b.used
    ]
    if not pairs:
        return
    aorta, atrium = (median(sizes) for sizes in zip(*pairs, strict=True))
    if not LIKELY_RATIO[0] * aorta < atrium < LIKELY_RATIO[1] * aorta:
        raise NotMeasurable(
            f"Ao and LA: {aorta:.1f} and {atrium:.1f} cm were traced, which cannot both be "
            "right; another line was followed. Measure by caliper"
        )


def _largest(atrium: Floats, span: BeatSpan, step_s: float) -> float:
    beat_s = (span.next_r - span.r) * step_s
    first = span.r + min(0.08, 0.25 * beat_s) / step_s
    last = span.r + min(0.45, 0.8 * beat_s) / step_s
    return lowest(np.negative(atrium), first, last, FIT_S_S / step_s)
