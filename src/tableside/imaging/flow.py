"""Follow the flow of a spectral tracing: on which side it is, unwrapped where it must be."""

from dataclasses import dataclass, replace

import numpy as np

from tableside.errors import NotMeasurable
from tableside.imaging.blur import BlurOptions
from tableside.imaging.envelope import (
    Envelope,
    EnvelopeOptions,
    noise_and_signal,
    trace_envelope,
)
from tableside.imaging.spectrum import Side, Sides, opposite
from tableside.imaging.types import Bools, Floats
from tableside.imaging.waves import Curve


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowOptions:
    """How side, wrapping and cutting are told. Change these, not the code."""

    edge_rows: int = 3  # outermost rows that a flow too fast for the scale reaches
    edge_columns: float = 0.015  # share of the columns in which it does
    edge_s: float = 0.024  # for at least this long: a click of a valve is shorter
    edge_level: float = 0.25  # from noise to signal, that most of its outer part must reach
    edge_filled: float = 0.6
    edge_blur: float = 0.7  # columns; a click must stay narrow
    wrap_share: float = 0.85  # of the other side; nearer to its baseline lie its wall echoes
    crossing_s: float = 0.016  # so near to a fold the flow crosses the end of its side
    gap_s: float = 0.012  # a fold may be interrupted by grain this long
    least_folded: int = 3  # columns
    end_share: float = 0.96  # of the side: an edge farther out lies at the end of the scale
    quiet: float = 0.4  # share of the columns in which nothing reaches the end
    level: float = 0.45  # between noise and signal, from which a pixel is signal
    clutter_rows: float = 0.3  # of an unwrapped flow only this part is compared with its mirror
    least_signal: float = 0.0015  # share of the pixels of a side that must be signal
    usual_s_per_column: float = 0.0045  # a slower sweep gets looser steps
    most_reach: float = 0.4
    least_smooth: float = 0.5
    narrow: float = 1.5  # the edge of tissue: a narrow band of speeds, no filled area


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowKind:
    """What moves and how it is heard.

    ``tissue``: a narrow band, no wall echoes to be told from it. ``pulsed``: only a pulsed
    spectrum wraps around. ``hidden_rows`` lie under the frame, at both ends of the scale
    together.
    """

    tissue: bool = False
    pulsed: bool = True
    hidden_rows: int = 0


@dataclass(frozen=True, slots=True)
class FlowTrace:
    """The envelope of one side. ``is_cut`` says that it reaches past the scale.

    ``at_end`` are the columns in which something is bright up to the end of the scale.
    """

    curve: Curve
    envelope: Envelope
    sign: int
    at_end: Bools
    is_unwrapped: bool = False
    is_cut: bool = False


def strength(sides: Sides, sign: int, options: FlowOptions = FlowOptions()) -> float:
    """Return how much signal one side holds that the other does not: share of its pixels."""
    own, other = _ordered(sides, sign)
    if own.grey.shape[0] < 8:
        return 0.0
    own_grey, other_grey = _blurred(own.grey), _blurred(opposite(own, other))
    whole = np.concatenate([own.grey, other.grey])[::2, ::2]
    noise, signal = (float(x) for x in np.quantile(whole, (0.3, 0.995)))
    level = noise + options.level * (signal - noise)
    alone = (own_grey > level) & (own_grey > 1.3 * other_grey)
    return float(alone.mean())


def trace_flow(
    sides: Sides,
    sign: int,
    s_per_column: float,
    kind: FlowKind = FlowKind(),
    options: FlowOptions = FlowOptions(),
) -> FlowTrace:
    """Trace the flow above (1) or below (-1) the baseline.

    Parameters
    ----------
    sides : Sides
    sign : int
    s_per_column : float
    kind : FlowKind
    options : FlowOptions

    Raises
    ------
    NotMeasurable
        When that side holds no signal.
    """
    side, other = _ordered(sides, sign)
    if side.grey.shape[0] < 8:
        raise NotMeasurable("the baseline leaves no room on the side of this flow; move it")
    if strength(sides, sign, options) < options.least_signal:
        raise NotMeasurable("no Doppler signal on the side where this flow belongs")
    reaching = _reaches_edge(side.grey, round(options.edge_s / s_per_column), options)
    wrapped = False
    if kind.pulsed and not kind.tissue:
        folded = _folded_columns(side.grey, other.grey, s_per_column, options)
        wrapped = bool(folded.any())
        reaching = reaching | folded
    mirrored = None if kind.tissue else opposite(side, other)
    grey = side.grey
    if wrapped:
        far = other.grey[int((1 - options.wrap_share) * other.grey.shape[0]) :]
        hidden = np.repeat((side.grey[-1:] + far[-1:]) / 2, kind.hidden_rows, axis=0)
        grey = np.concatenate([side.grey, hidden, far[::-1]])
        mirrored = _near_part(mirrored, grey, folded, options)
    choice = _for_sweep(s_per_column, kind, options)
    envelope = trace_envelope(grey, mirrored, choice)
    shift = side.first_px - 1.0
    height = np.where(envelope.height_px > 0, envelope.height_px + shift, 0.0)
    curve = Curve(
        height, envelope.sd_px, envelope.width_px, envelope.is_click, envelope.contrast
    )
    if wrapped:  # the line must have followed the flow past the end of its own side
        wrapped = float(np.median(envelope.cut_px[folded])) > side.grey.shape[0] - 1
    close = float(np.quantile(envelope.cut_px, 0.99)) > grey.shape[0] - options.edge_rows
    cut = (bool(reaching.any()) or close) and not wrapped
    ends = envelope.cut_px >= options.end_share * grey.shape[0]
    at_end = (_is_bright_at_end(grey, options) | ends) & ~envelope.is_click
    return FlowTrace(curve, envelope, sign, at_end, is_unwrapped=wrapped, is_cut=cut)


def _for_sweep(s_per_column: float, kind: FlowKind, options: FlowOptions) -> EnvelopeOptions:
    """Return the options of the envelope: at a slow sweep a flow climbs more a column."""
    usual = EnvelopeOptions()
    slow = max(1.0, s_per_column / options.usual_s_per_column)
    # tissue is loud: white as a rule, and seen on real spectra to end where the white does
    tissue = BlurOptions(narrow=options.narrow, full_share=usual.blur.white_share)
    return replace(
        usual,
        step_cost=usual.step_cost / slow**2,
        reach_rows=min(usual.reach_rows * slow, options.most_reach),
        smooth_columns=max(usual.smooth_columns / slow, options.least_smooth),
        blur=tissue if kind.tissue else usual.blur,
    )


def _ordered(sides: Sides, sign: int) -> tuple[Side, Side]:
    return (sides.up, sides.down) if sign > 0 else (sides.down, sides.up)


def _blurred(grey: Floats, columns: float = 1.5) -> Floats:
    import cv2  # noqa: PLC0415  (slow to import)

    if grey.size == 0:
        return grey
    blurred = cv2.GaussianBlur(grey, (0, 0), sigmaX=columns, sigmaY=1.5)
    return np.asarray(blurred, dtype=np.float64)


def _reaches_edge(grey: Floats, least_columns: int, options: FlowOptions) -> Bools:
    """Return the columns in which the flow reaches the end of the scale."""
    import cv2  # noqa: PLC0415  (slow to import)

    smooth = _blurred(grey, options.edge_blur)
    levels = noise_and_signal(smooth)
    span, rows = levels.signal - levels.noise, options.edge_rows
    # a drawn letter is bright at the edge alone; a flow is bright for a good part of the side
    outer = smooth[-8 * rows :] > levels.noise + options.edge_level * span
    tall = outer.mean(axis=0) > options.edge_filled
    columns = (smooth[-rows:].mean(axis=0) > levels.noise + options.edge_level * span) & tall
    line = np.ones((1, max(5, least_columns)), np.uint8)
    closed = cv2.morphologyEx(columns[None].astype(np.uint8), cv2.MORPH_CLOSE, line[:, :3])
    columns = cv2.morphologyEx(closed, cv2.MORPH_OPEN, line)[0] > 0
    return np.asarray(columns & (columns.mean() >= options.edge_columns))


def _folded_columns(
    side: Floats, other: Floats, s_per_column: float, options: FlowOptions
) -> Bools:
    """Return the columns in which the flow comes in again at the far end of the other side.

    There the other side is bright at its end, and where that begins and ends the flow crosses
    the end of its own side. (In between its own side may be nearly empty: the dense part of
    the flow has folded.) A click of a valve is bright on both sides too, but shorter.
    """
    folded = np.zeros(side.shape[1], dtype=bool)
    if other.shape[0] < 8:
        return folded
    far, near = (_is_bright_at_end(one, options) for one in (other, side))
    reach = max(2, round(options.crossing_s / s_per_column))
    least = max(options.least_folded, round(options.edge_s / s_per_column))
    for first, last in _runs(far, round(options.gap_s / s_per_column)):
        left = near[max(0, first - reach) : first + reach + 1]
        right = near[max(0, last - reach) : last + reach + 1]
        whole = first == 0 or last == side.shape[1] - 1
        if last - first + 1 >= least and (left.any() or right.any()):
            folded[first : last + 1] = (left.any() and right.any()) or whole
    return folded


def _is_bright_at_end(grey: Floats, options: FlowOptions) -> Bools:
    """Return the columns whose outermost rows stand out of those of most columns."""
    rows = 2 * options.edge_rows
    outer = _blurred(grey[-2 * rows :], options.edge_blur)[-rows:].mean(axis=0)
    quiet = float(np.quantile(outer, options.quiet))
    spread = float(np.quantile(outer, options.quiet) - np.quantile(outer, options.quiet / 4))
    span = float(np.quantile(grey[::3, ::3], 0.99)) - quiet
    return np.asarray(outer > quiet + max(options.edge_level * span, 3.0 * spread))


def _runs(chosen: Bools, gap: int) -> list[tuple[int, int]]:
    """Return first and last of every run, those less than ``gap`` apart joined."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], chosen.astype(np.int8), [0]))))
    runs: list[tuple[int, int]] = []
    for first, after in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if runs and first - runs[-1][1] <= gap + 1:
            runs[-1] = (runs[-1][0], after - 1)
        else:
            runs.append((first, after - 1))
    return runs


def _near_part(
    mirrored: Floats | None, grey: Floats, folded: Bools, options: FlowOptions
) -> Floats | None:
    """Return the mirror only where wall echoes are, in the size of the unwrapped side.

    In the columns of the fold the other side holds the flow itself.
    """
    if mirrored is None:
        return None
    near = np.zeros_like(grey)
    rows = int(options.clutter_rows * mirrored.shape[0])
    near[:rows] = np.where(folded, 0.0, mirrored[:rows])
    return near
