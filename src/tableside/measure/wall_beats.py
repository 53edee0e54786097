"""The walls of the left ventricle in one beat: at the onset of the QRS and in end systole."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tableside.measure.curves import Floats, lowest
from tableside.measure.moment import BeatSpan, EdgeRows, Moment, Place, beat_spans
from tableside.model import Beat, Rhythm

SYSTOLE_S = (0.06, 0.42)  # end systole after the R wave: not before, not after
SYSTOLE_SHARE = 0.75  # of the beat
FIT_D_S, FIT_S_S = 0.020, 0.030
TIMING_SD_S = 0.014  # of end systole; with it nine in ten intervals hold on tuning phantoms
SIZES = {"IVS": (0, 1), "LVID": (1, 2), "LVPW": (2, 3)}
INNER = {"IVS": (0, 4), "LVID": (4, 2), "LVPW": (2, 3)}


@dataclass(frozen=True, slots=True, kw_only=True)
class WallRows:
    """Traced interfaces of the left ventricle.

    ``lines`` are the right and left side of the septum, endocardium and epicardium, by their
    leading edges, then the trailing edge of the septum's left side. ``second`` is another line
    that could be the endocardium, NaN where there is none.
    """

    lines: EdgeRows
    second: Floats  # (columns,)

    @property
    def cavity(self) -> Floats:
        """Cavity in rows."""
        return np.asarray(self.lines.rows[2] - self.lines.rows[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class WallBeat:
    """One beat's readings by quantity.

    ``inner_cm`` are the same lengths by the inner edges; ``second_cm`` what cavity and wall
    would be if the second line were the endocardium.
    """

    readings: dict[str, Beat]
    inner_cm: dict[str, float]
    second_cm: dict[str, float]


def wall_beats(walls: WallRows, rhythm: Rhythm, place: Place) -> Iterator[WallBeat]:
    """Read every complete beat of a tracing."""
    for span in beat_spans(rhythm, place, walls.cavity.size):
        yield _one_beat(walls, span, place)


def systole_column(cavity: Floats, span: BeatSpan, s_per_column: float) -> float:
    """Return the column of the smallest cavity of a beat."""
    beat_s = (span.next_r - span.r) * s_per_column
    start_s = min(SYSTOLE_S[0], 0.3 * beat_s)
    end_s = min(SYSTOLE_S[1], SYSTOLE_SHARE * beat_s)
    return lowest(
        cavity,
        span.r + start_s / s_per_column,
        span.r + end_s / s_per_column,
        FIT_S_S / s_per_column,
    )


def _one_beat(walls: WallRows, span: BeatSpan, place: Place) -> WallBeat:
    step_s = place.region.s_per_column
    systole = systole_column(walls.cavity, span, step_s)
    moments = {
        "d": Moment(walls.lines, span.onset, FIT_D_S / step_s, span.onset_sd, place),
        "s": Moment(walls.lines, systole, FIT_S_S / step_s, TIMING_SD_S / step_s, place),
    }
    readings: dict[str, Beat] = {}
    inner: dict[str, float] = {}
    second: dict[str, float] = {}
    for phase, moment in moments.items():
        for name, lines in SIZES.items():
            readings[name + phase] = moment.read(lines, span.wave.reason)
            inner[name + phase] = moment.length_cm(INNER[name])
        by_second = _by_second_line(moment, walls.second)
        second |= {name + phase: value for name, value in by_second.items()}
    return WallBeat(readings=readings, inner_cm=inner, second_cm=second)


def _by_second_line(moment: Moment, second: Floats) -> dict[str, float]:
    """Return cavity and wall if the second line were the endocardium; empty without one."""
    rows = second[moment.around]
    if np.isfinite(rows).mean() < 0.5:
        return {}
    row, scale = float(np.nanmedian(rows)), moment.place.region.cm_per_row
    return {
        "LVID": (row - moment.row(1)) * scale,
        "LVPW": (moment.row(3) - row) * scale,
    }
