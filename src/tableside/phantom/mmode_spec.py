"""What an M-mode of the phantom is asked to show, and what comes back with its truth."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from tableside.phantom.ecg import EcgStyle, draw_line, electrocardiogram
from tableside.phantom.mline import Beam
from tableside.phantom.rhythm import HeartBeat, complete_beats, heart_beats
from tableside.phantom.speckle import Display, through_jpeg, to_pixels
from tableside.phantom.types import Floats, Pixels

ECG_PLACE = {"below": 0.94, "across": 0.55}


@dataclass(frozen=True, slots=True, kw_only=True)
class MModeSpec:
    """One M-mode: the animal, the machine and what makes the tracing hard.

    ``enlargement`` and ``wall`` multiply the normal sizes of a dog of that weight. ``depth_cm``
    None chooses the depth as an operator would, times ``depth_share``. ``off_centre`` is how
    far the line passes beside the axis of the left ventricle, as a share of the cavity's radius
    at end diastole: the cavity is then crossed along a shorter chord. ``dropout`` is the share
    of time in which an interface is not seen. ``snr_db`` is myocardium over noise at mid-depth.
    ``jpeg`` is a quality, or None for pixels untouched. ``ecg`` is ``below``, ``across`` or
    None.
    """

    weight_kg: float = 10.0
    heart_rate: float = 110.0
    rhythm: str = "sinus"
    fractional_shortening: float = 0.36
    enlargement: float = 1.0
    wall: float = 1.0
    epss_cm: float | None = None  # None: a normal valve
    left_atrium_to_aorta: float = 1.1
    excursion_cm: float | None = None  # None: a normal annulus
    rows: int = 420
    columns: int = 900
    depth_cm: float | None = None
    depth_share: float = 1.0
    s_per_column: float = 0.0035
    skin_row: float = 0.0
    frequency_mhz: float = 5.0
    gain_db: float = 0.0
    dynamic_range_db: float = 55.0
    snr_db: float = 28.0
    dropout: float = 0.03
    chorda: bool = False
    papillary: bool = False
    trabeculae: bool = False
    right_ventricular_wall: bool = True
    respiration_mm: float = 1.0
    off_axis_deg: float = 0.0
    off_centre: float = 0.0
    jpeg: int | None = None
    ecg: str | None = "below"
    ecg_style: EcgStyle = field(default_factory=EcgStyle)

    @property
    def size(self) -> float:
        """Length of this animal over that of a dog of 10 kg."""
        return float((self.weight_kg / 10.0) ** (1 / 3))


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatTruth:
    """What is true of one complete beat: columns of its R wave and phases, sizes in cm."""

    r_column: float
    d_column: float
    s_column: float
    values: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class MModePhantom:
    """An M-mode with its truth.

    ``edges_row`` holds the row of each interface before the pulse blurs it, one value a
    column. ``truth`` is the mean over the complete beats that are neither premature nor the
    beat after one, along the beam as displayed.
    """

    pixels: Pixels
    cm_per_row: float
    s_per_column: float
    skin_row: float
    edges_row: Mapping[str, Floats]
    r_columns: Floats
    beats: tuple[BeatTruth, ...]
    truth: Mapping[str, float]


def tracing_beats(
    columns: int, s_per_column: float, heart_rate: float, rhythm: str, rng: np.random.Generator
) -> tuple[HeartBeat, ...]:
    """Return the beats of a tracing of that width."""
    return heart_beats(columns * s_per_column, heart_rate, rhythm, rng)


def column_times(columns: int, s_per_column: float) -> Floats:
    """Return the time of each column; the first is 0."""
    return np.asarray(np.arange(columns) * s_per_column, dtype=np.float64)


def beam_of(spec: MModeSpec, depth_cm: float) -> Beam:
    """Return the line and screen for a spec."""
    depth_cm = spec.depth_cm or depth_cm * spec.depth_share
    return Beam(
        rows=spec.rows,
        columns=spec.columns,
        cm_per_row=depth_cm / (spec.rows - spec.skin_row),
        s_per_column=spec.s_per_column,
        skin_row=spec.skin_row,
        frequency_mhz=spec.frequency_mhz,
        snr_db=spec.snr_db,
        display=Display(gain_db=spec.gain_db, dynamic_range_db=spec.dynamic_range_db),
    )


@dataclass(frozen=True, slots=True)
class Tracing:
    """What was drawn: the strengths, the screen, the beats, and where the edges really are."""

    level: Floats
    beam: Beam
    beats: tuple[HeartBeat, ...]
    edges_cm: Mapping[str, Floats]


def stored(
    drawn: Tracing,
    spec: MModeSpec,
    truth_of: Callable[[HeartBeat], BeatTruth],
    rng: np.random.Generator,
) -> MModePhantom:
    """Store the picture with its truth, beat by beat and over the beats that count."""
    duration_s = (spec.columns - 1) * spec.s_per_column
    found = tuple((beat, truth_of(beat)) for beat in complete_beats(drawn.beats, duration_s))
    rows = {
        name: spec.skin_row + edge / drawn.beam.cm_per_row
        for name, edge in drawn.edges_cm.items()
    }
    return MModePhantom(
        pixels=_finish(drawn.level, spec, drawn.beats, rng),
        cm_per_row=drawn.beam.cm_per_row,
        s_per_column=spec.s_per_column,
        skin_row=spec.skin_row,
        edges_row=rows,
        r_columns=r_columns(drawn.beats, spec.columns, spec.s_per_column),
        beats=tuple(truth for _, truth in found),
        truth=_mean_truth(found),
    )


def _finish(
    level: Floats, spec: MModeSpec, beats: tuple[HeartBeat, ...], rng: np.random.Generator
) -> Pixels:
    """Draw the ECG if wanted and store the picture."""
    pixels = to_pixels(level)
    if spec.ecg is not None:
        time_s = column_times(spec.columns, spec.s_per_column)
        volts = electrocardiogram(time_s, beats, rng, spec.ecg_style)
        rows = spec.rows * ECG_PLACE[spec.ecg] - spec.ecg_style.amplitude_px * volts
        pixels = draw_line(np.repeat(pixels[..., None], 3, axis=2), rows, spec.ecg_style)
    return through_jpeg(pixels, spec.jpeg)


def r_columns(beats: tuple[HeartBeat, ...], columns: int, s_per_column: float) -> Floats:
    """Return the columns of the R waves that lie on the tracing."""
    found = np.array([beat.r_s for beat in beats]) / s_per_column
    return found[(found >= 0) & (found <= columns - 1)]


def _mean_truth(
    found: tuple[tuple[HeartBeat, BeatTruth], ...],
) -> Mapping[str, float]:
    """Average the beats that a person would use: no premature beat, nor the one after."""
    used = [truth for beat, truth in found if is_usual(beat)]
    names = used[0].values if used else ()
    return {name: float(np.mean([one.values[name] for one in used])) for name in names}


def is_usual(beat: HeartBeat) -> bool:
    """Whether a beat is neither premature nor the one after a pause."""
    return not beat.premature and beat.rr_before_s < 1.25 * beat.rr_s
