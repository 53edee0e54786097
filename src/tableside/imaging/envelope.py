"""Trace the outer edge of a spectral Doppler signal, with its spread.

The method, step by step, and what it corrects, is told in ``docs/doppler.md``.
"""

from dataclasses import dataclass, field

import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.blur import BlurOptions, correct_edge
from tableside.imaging.paths import path_marginals
from tableside.imaging.smooth import running_mean, running_median
from tableside.imaging.types import Bools, Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class EnvelopeOptions:
    """How the edge is found. Change these, not the code."""

    smooth_rows: float = 1.0  # sigma of the blur that tames the grain
    smooth_columns: float = 0.8
    least_contrast: float = 18.0  # grey levels of signal over noise
    least_noises: float = 2.3  # signal over noise, in standard deviations of the noise
    clear_share: float = 0.45  # of the way from noise to the brightest is surely signal
    noise_evidence: float = -2.0  # log likelihood ratio of a pixel as bright as noise
    signal_evidence: float = 2.0  # ... as bright as the signal
    equal: float = 0.40  # share of the way from noise to signal where they are as likely
    band_rows: float = 0.05  # below its edge a flow is dense: share of the rows
    dense: float = 0.95  # share of signal pixels in the dense band
    filled: float = 0.15  # share of signal pixels below it
    height_cost: float = 0.02  # of one row of height: no evidence means no flow
    step_cost: float = 0.007  # of one row between columns; grows with the square
    reach_rows: float = 0.16  # largest step between columns, share of the rows
    temperature: float = 3.0  # grain is correlated: this many pixels count as one
    symmetric: float = 0.75  # the other side as bright as this share: not a flow
    likeness_px: float = 2.5  # both sides are compared after a blur of this sigma
    click_rows: int = 16  # a side with fewer rows shows no clicks
    click_columns: int = 31  # what is wider than half of this is no click
    click_sigmas: float = 5.0
    click_grey: float = 6.0
    click_rim: int = 2  # columns beside a click that it blurs
    least_rows: float = 3.0  # an edge nearer to the baseline is no flow
    blur: BlurOptions = field(default_factory=BlurOptions)  # how the edge is corrected


@dataclass(frozen=True, slots=True)
class Levels:
    """Grey level of the noise and of the signal."""

    noise: float
    noise_sd: float
    signal: float


@dataclass(frozen=True, slots=True)
class Envelope:
    """Distance of the flow's outer edge from the baseline, one value a column.

    ``height_px`` is corrected for the blur of the edge; 0 where there is no flow. ``cut_px`` is
    where signal and noise part, not corrected. ``sd_px`` is the spread of the edges that the
    picture allows. ``contrast`` is the brightness just inside the edge as a share of the usual
    signal; ``width_px`` the width of the blurred edge.
    """

    height_px: Floats
    sd_px: Floats
    contrast: Floats
    cut_px: Floats
    width_px: Floats
    is_click: Bools  # columns bridged because a valve clicks there
    levels: Levels


def noise_and_signal(grey: Floats, options: EnvelopeOptions = EnvelopeOptions()) -> Levels:
    """Measure the grey level of the noise and of the signal.

    Raises
    ------
    NotMeasurable
        When nothing stands out of the noise.

    Notes
    -----
    Noise is taken in the outer half of the rows, in the quieter columns; signal is the upper
    quarter of all that lies clearly above.
    """
    outer = grey[grey.shape[0] // 2 :]
    column = outer.mean(axis=0)
    quiet = outer[:, column <= np.quantile(column, 0.4)]
    noise, noise_sd = float(quiet.mean()), float(quiet.std())
    brightest = float(np.quantile(grey[::2, ::2], 0.995))
    clear = min(4 * noise_sd, options.clear_share * (brightest - noise))
    above = grey[grey > noise + max(clear, options.least_contrast)]
    if above.size < 0.002 * grey.size:
        raise NotMeasurable("no Doppler signal stands out of the noise; raise the gain")
    signal = float(np.quantile(above, 0.6))
    if signal - noise < options.least_noises * noise_sd:
        raise NotMeasurable("the Doppler signal hardly stands out of the noise; lower the gain")
    return Levels(noise, noise_sd, signal)


def trace_envelope(
    spectrum: Floats,
    mirrored: Floats | None = None,
    options: EnvelopeOptions = EnvelopeOptions(),
) -> Envelope:
    """Trace the outer edge of the flow on one side of the baseline.

    Parameters
    ----------
    spectrum : (rows, columns)
        Brightness; row 0 touches the baseline; time runs along columns.
    mirrored : (rows, columns) or None
        The other side at the same speeds. What is as bright there is no flow: a click of a
        valve, or the echo of a wall.
    options : EnvelopeOptions

    Returns
    -------
    Envelope
        In rows from the first one.

    Raises
    ------
    NotMeasurable
        When nothing stands out of the noise.
    """
    smooth = _blurred(spectrum, options.smooth_columns, options.smooth_rows)
    levels = noise_and_signal(smooth, options)
    evidence = _evidence(smooth, levels, options)
    clicks = np.zeros(spectrum.shape[1], dtype=bool)
    if mirrored is not None:
        sigma = options.likeness_px
        own, other = (
            _blurred(one, sigma, sigma) - levels.noise for one in (spectrum, mirrored)
        )
        evidence = evidence * (1 - _likeness(own, other, options))
        clicks = find_clicks(mirrored, options)
        evidence[:, clicks] = 0.0
    cost = -_gain(evidence, options)
    reach = max(3, round(options.reach_rows * spectrum.shape[0]))
    weights = path_marginals(
        cost, smooth=options.step_cost * options.temperature, reach=reach,
        temperature=options.temperature,
    )  # fmt: skip
    cut, spread = _centre(weights)
    correction = correct_edge(spectrum, np.maximum(cut - 1, 0), options.blur)
    flowing = cut > options.least_rows
    height = np.where(flowing, np.maximum(cut + correction.offset_px, 0.0), 0.0)
    return Envelope(
        height_px=height,
        sd_px=np.where(flowing, spread, 0.0),
        contrast=_edge_contrast(smooth, cut, levels, options),
        cut_px=cut,
        width_px=correction.width_px,
        is_click=clicks,
        levels=levels,
    )


def _blurred(grey: Floats, columns: float, rows: float) -> Floats:
    import cv2  # noqa: PLC0415  (slow to import)

    return np.asarray(cv2.GaussianBlur(grey, (0, 0), sigmaX=columns, sigmaY=rows), np.float64)


def _edge_contrast(
    smooth: Floats, cut: Floats, levels: Levels, options: EnvelopeOptions
) -> Floats:
    """Return how bright the dense band under the edge is, as a share of the signal level."""
    band = max(4, round(options.band_rows * smooth.shape[0]))
    total = _summed(smooth)
    last = np.clip(np.rint(cut).astype(np.int64), 0, smooth.shape[0])
    first = np.maximum(last - band, 0)
    columns = np.arange(cut.size)
    mean = (total[last, columns] - total[first, columns]) / np.maximum(last - first, 1)
    share = (mean - levels.noise) / max(levels.signal - levels.noise, 1.0)
    return np.where(last > first, share, 0.0)


def find_clicks(other: Floats, options: EnvelopeOptions = EnvelopeOptions()) -> Bools:
    """Return the columns in which a valve clicks: a short stroke through the other side too.

    Parameters
    ----------
    other : (rows, columns)
        The side of the baseline without the flow.
    options : EnvelopeOptions
    """
    rows = np.flatnonzero(other.any(axis=1))
    if rows.size < options.click_rows:
        return np.zeros(other.shape[1], dtype=bool)
    outer = other[rows[rows.size // 3] : rows[-1] + 1].mean(axis=0)
    away = outer - running_median(outer, options.click_columns)
    usual = 1.4826 * float(np.median(np.abs(away - np.median(away))))
    strokes = away > max(options.click_sigmas * usual, options.click_grey)
    return running_mean(strokes.astype(np.float64), 2 * options.click_rim + 1) > 1e-9


def _evidence(smooth: Floats, levels: Levels, options: EnvelopeOptions) -> Floats:
    """Return the log likelihood ratio of signal over noise of every pixel."""
    equal = levels.noise + options.equal * (levels.signal - levels.noise)
    below = options.noise_evidence / (levels.noise - equal)
    above = options.signal_evidence / (levels.signal - equal)
    away = smooth - equal
    ratio = np.where(away < 0, away * below, away * above)
    return np.clip(ratio, options.noise_evidence, options.signal_evidence)


def _likeness(signal: Floats, other: Floats, options: EnvelopeOptions) -> Floats:
    """Return how much a pixel looks like the one at the same speed on the other side."""
    share = other / np.maximum(signal, 1.0)
    return np.clip((share - options.symmetric / 2) / (options.symmetric / 2), 0.0, 1.0)


def _gain(evidence: Floats, options: EnvelopeOptions) -> Floats:
    """Return, for every row, the log likelihood that the flow ends just there.

    State 0 is "no flow"; state ``v`` says that rows below ``v`` are flow: the last ones
    densely, those nearer to the baseline perhaps.
    """
    likely = np.exp(evidence)
    dense = _summed(np.log(1 - options.dense + options.dense * likely))
    filled = _summed(np.log(1 - options.filled + options.filled * likely))
    band = max(4, round(options.band_rows * evidence.shape[0]))
    rows = np.arange(evidence.shape[0] + 1)
    start = np.maximum(rows - band, 0)
    height = options.height_cost * rows[:, None]
    return np.asarray(filled[start] + dense - dense[start] - height)


def _summed(values: Floats) -> Floats:
    total = np.zeros((values.shape[0] + 1, values.shape[1]))
    np.cumsum(values, axis=0, out=total[1:])
    return total


def _centre(weights: Floats, reach: int = 8) -> tuple[Floats, Floats]:
    """Return the centre of the likeliest edge of each column and the spread of all edges."""
    rows = np.arange(weights.shape[0], dtype=np.float64)[:, None]
    top = weights.argmax(axis=0)
    near = np.abs(rows - top) <= reach
    inside = np.where(near, weights, 0.0)
    centre = (inside * rows).sum(axis=0) / inside.sum(axis=0)
    mean = (weights * rows).sum(axis=0)
    spread = np.sqrt(np.maximum((weights * (rows - mean) ** 2).sum(axis=0), 1 / 12))
    return centre, spread
