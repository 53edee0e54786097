"""Distances between traced lines at one moment of an M-mode."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import hypot

import numpy as np
from numpy.typing import NDArray

from tableside.measure.curves import Floats, local_fit
from tableside.model import Beat, Region, Rhythm, RWave

QRS_TO_R_S = (
    0.020  # a dog's QRS lasts under 70 ms; its onset lies 20 to 30 ms before R (memory)
)
CLEAR_SHARE = 0.6  # of the columns around the moment, for each line
UNCLEAR = "an edge is not clear in this beat"


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeRows:
    """Traced lines in rows of the tracing, one value a column."""

    rows: Floats  # (lines, columns)
    sd: Floats  # (lines, columns), rows
    clear: NDArray[np.bool_]  # (lines, columns)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where an image's beats belong; ``left`` and ``top`` are the first pixel traced."""

    file: str
    frame: int
    region: Region
    left: int
    top: int

    @property
    def scale(self) -> str:
        """Name of the calibration that every length of this tracing hangs on."""
        return f"{self.file}#{self.region.index}"

    @property
    def scale_sd(self) -> float:
        """Relative standard deviation of that calibration."""
        return self.region.y.relative_sd if self.region.y else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatSpan:
    """One complete beat in columns of the tracing."""

    wave: RWave
    onset: float  # QRS onset, or the largest cavity where there is no ECG
    r: float
    next_r: float
    onset_sd: float


def beat_spans(rhythm: Rhythm, place: Place, columns: int) -> Iterator[BeatSpan]:
    """Yield the beats that lie wholly on the tracing, from R wave to R wave.

    Parameters
    ----------
    rhythm : Rhythm
        Its R waves carry columns of the image. When its source is ``tracing`` the waves stand
        at the largest cavity instead.
    place : Place
    columns : int
        Width of the tracing.
    """
    step_s = place.region.s_per_column
    before = 0.0 if rhythm.source == "tracing" else QRS_TO_R_S / step_s
    for wave, following in pairwise(rhythm.r_waves):
        r, next_r = wave.column - place.left, following.column - place.left
        if r - before >= 0 and r < next_r <= columns - 1:
            yield BeatSpan(
                wave=wave,
                onset=r - before,
                r=r,
                next_r=next_r,
                onset_sd=max(0.006, wave.sd_s) / step_s,
            )


@dataclass(frozen=True, slots=True)
class Moment:
    """The tracing around one column."""

    lines: EdgeRows
    column: float
    half_width: float  # columns on either side that are fitted
    column_sd: float
    place: Place

    @property
    def around(self) -> slice:
        """Columns that are fitted."""
        reach = max(self.half_width, 1.0)
        first = max(0, round(self.column - reach))
        return slice(first, round(self.column + reach) + 1)

    def row(self, line: int) -> float:
        """Row of a line at the moment."""
        fit = local_fit(self.lines.rows[line], self.column, self.half_width)
        return fit.value(self.column)

    def length_cm(self, lines: tuple[int, int]) -> float:
        """Distance of two lines."""
        return (self.row(lines[1]) - self.row(lines[0])) * self.place.region.cm_per_row

    def sd_cm(self, lines: tuple[int, int]) -> float:
        """Spread of the distance: both lines, and the moment itself."""
        sds = [float(np.median(self.lines.sd[line, self.around])) for line in lines]
        size = self.lines.rows[lines[1]] - self.lines.rows[lines[0]]
        fit = local_fit(size, self.column, self.half_width)
        moved = fit.rate(self.column) * self.column_sd
        bent = 2 * fit.bend * self.column_sd**2
        return hypot(*sds, moved, bent) * self.place.region.cm_per_row

    def read(self, lines: tuple[int, int], reason: str | None = None) -> Beat:
        """Return the distance as one reading; ``reason`` says why it must not be used."""
        region = self.place.region
        rows = [self.row(line) for line in lines]
        x = self.place.left + self.column
        clear = min(float(self.lines.clear[line, self.around].mean()) for line in lines)
        if reason is None and clear < CLEAR_SHARE:
            reason = UNCLEAR
        return Beat(
            file=self.place.file,
            frame=self.place.frame,
            value=(rows[1] - rows[0]) * region.cm_per_row,
            sd=self.sd_cm(lines),
            time_s=region.seconds_from_left(x),
            points=tuple((x, self.place.top + row) for row in rows),
            used=reason is None,
            reason=reason,
        )
