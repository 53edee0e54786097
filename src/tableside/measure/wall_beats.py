"""The walls of the left ventricle in one beat: at the onset of the QRS and in end systole."""

from dataclasses import dataclass, replace
from itertools import pairwise
from math import hypot

import numpy as np
from numpy.typing import NDArray

from tableside.measure.curves import Floats, local_fit, lowest
from tableside.model import Beat, Region, Rhythm, RWave

QRS_TO_R_S = (
    0.020  # a dog's QRS lasts under 70 ms; its onset lies 20 to 30 ms before R (memory)
)
SYSTOLE_S = (0.06, 0.42)  # end systole after the R wave: not before, not after
SYSTOLE_SHARE = 0.75  # of the beat
FIT_D_S, FIT_S_S = 0.020, 0.030
TIMING_SD_S = 0.006
CLEAR_SHARE = 0.6  # of the columns around the moment, for each edge
SIZES = {"IVS": (0, 1), "LVID": (1, 2), "LVPW": (2, 3)}
INNER = {"IVS": (0, 4), "LVID": (4, 2), "LVPW": (2, 3)}


@dataclass(frozen=True, slots=True, kw_only=True)
class WallRows:
    """Traced interfaces in rows of the region, one value a column.

    ``rows`` are the right and left side of the septum, endocardium and epicardium, by their
    leading edges, then the trailing edge of the left side; ``sd`` and ``clear`` go with them.
    ``second`` is another line that could be the endocardium, NaN where there is none.
    """

    rows: Floats  # (5, columns)
    sd: Floats  # (5, columns), rows
    clear: NDArray[np.bool_]  # (5, columns)
    second: Floats  # (columns,)

    @property
    def cavity(self) -> Floats:
        """Cavity in rows."""
        return np.asarray(self.rows[2] - self.rows[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where an image's beats belong; ``left`` and ``top`` are the first pixel traced."""

    file: str
    frame: int
    region: Region
    left: int
    top: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WallBeat:
    """One beat: the columns of its two phases and its readings by quantity."""

    r_wave: RWave
    d_column: float
    s_column: float
    readings: dict[str, Beat]
    inner_cm: dict[str, float]
    second_cm: dict[str, float]  # the cavity and wall if the second line were the endocardium


def wall_beats(walls: WallRows, rhythm: Rhythm, place: Place) -> tuple[WallBeat, ...]:
    """Read every complete beat of a tracing.

    Parameters
    ----------
    walls : WallRows
    rhythm : Rhythm
        Its R waves carry columns of the image. When its source is ``tracing`` the waves
        stand at the largest cavity instead.
    place : Place
    """
    onset_s = 0.0 if rhythm.source == "tracing" else QRS_TO_R_S
    found = (
        _one_beat(walls, pair, onset_s, place)
        for pair in pairwise(rhythm.r_waves)
        if _is_inside(pair, onset_s, walls, place)
    )
    return tuple(found)


def _is_inside(
    pair: tuple[RWave, RWave], onset_s: float, walls: WallRows, place: Place
) -> bool:
    before = onset_s / place.region.s_per_column
    first, last = (wave.column - place.left for wave in pair)
    return first - before >= 0 and last - before <= walls.rows.shape[1] - 1 and last > first


def _one_beat(
    walls: WallRows, pair: tuple[RWave, RWave], onset_s: float, place: Place
) -> WallBeat:
    step_s = place.region.s_per_column
    r_column = pair[0].column - place.left
    beat_s = (pair[1].column - pair[0].column) * step_s
    d_column = r_column - onset_s / step_s
    end_s = min(SYSTOLE_S[1], SYSTOLE_SHARE * beat_s)
    start_s = min(SYSTOLE_S[0], 0.3 * beat_s)
    s_column = lowest(
        walls.cavity, r_column + start_s / step_s, r_column + end_s / step_s, FIT_S_S / step_s
    )
    readings: dict[str, Beat] = {}
    inner: dict[str, float] = {}
    second: dict[str, float] = {}
    for phase, column, half_s in (("d", d_column, FIT_D_S), ("s", s_column, FIT_S_S)):
        sd_s = max(TIMING_SD_S, pair[0].sd_s) if phase == "d" else TIMING_SD_S
        moment = _Moment(walls, column, (half_s / step_s, sd_s / step_s), place)
        for name, edges in SIZES.items():
            readings[name + phase] = _with_reason(moment.read(edges), pair[0])
            inner[name + phase] = moment.length_cm(INNER[name])
        second |= {name + phase: value for name, value in moment.by_second_line().items()}
    return WallBeat(
        r_wave=pair[0],
        d_column=d_column,
        s_column=s_column,
        readings=readings,
        inner_cm=inner,
        second_cm=second,
    )


def _with_reason(beat: Beat, wave: RWave) -> Beat:
    if wave.reason is None:
        return beat
    return replace(beat, used=False, reason=wave.reason)


@dataclass(frozen=True, slots=True)
class _Moment:
    """The tracing around one column."""

    walls: WallRows
    column: float
    widths: tuple[float, float]  # columns on either side that are fitted; sd of the column
    place: Place

    @property
    def half_width(self) -> float:
        """Columns on either side that are fitted."""
        return self.widths[0]

    def _around(self) -> slice:
        reach = max(self.half_width, 1.0)
        first = max(0, round(self.column - reach))
        return slice(first, round(self.column + reach) + 1)

    def row(self, edge: int) -> float:
        """Row of an edge at the moment."""
        return local_fit(self.walls.rows[edge], self.column, self.half_width).value(self.column)

    def length_cm(self, edges: tuple[int, int]) -> float:
        """Distance of two edges."""
        return (self.row(edges[1]) - self.row(edges[0])) * self.place.region.cm_per_row

    def sd_cm(self, edges: tuple[int, int]) -> float:
        """Spread of the distance: both edges, and the moment itself."""
        region = self.place.region
        sds = [float(np.median(self.walls.sd[edge, self._around()])) for edge in edges]
        size = self.walls.rows[edges[1]] - self.walls.rows[edges[0]]
        rate = local_fit(size, self.column, self.half_width).rate(self.column)
        moving = rate * self.widths[1]
        return hypot(*sds, moving) * region.cm_per_row

    def read(self, edges: tuple[int, int]) -> Beat:
        """Return the distance as one reading."""
        region = self.place.region
        rows = [self.row(edge) for edge in edges]
        x = self.place.left + self.column
        clear = min(float(self.walls.clear[edge, self._around()].mean()) for edge in edges)
        reason = None if clear >= CLEAR_SHARE else "an edge is not clear in this beat"
        return Beat(
            file=self.place.file,
            frame=self.place.frame,
            value=(rows[1] - rows[0]) * region.cm_per_row,
            sd=self.sd_cm(edges),
            time_s=region.seconds_from_left(x),
            points=tuple((x, self.place.top + row) for row in rows),
            used=reason is None,
            reason=reason,
        )

    def by_second_line(self) -> dict[str, float]:
        """Cavity and wall if the second line were the endocardium; empty without one."""
        second = self.walls.second[self._around()]
        if np.isfinite(second).mean() < 0.5:
            return {}
        row, scale = float(np.nanmedian(second)), self.place.region.cm_per_row
        return {"LVID": (row - self.row(1)) * scale, "LVPW": (self.row(3) - row) * scale}
