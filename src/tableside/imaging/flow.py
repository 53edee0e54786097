"""Follow the flow of a spectral tracing: which side it is on, unwrapped, ready for measuring."""

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
    both_edges: float = 0.6  # of these, share in which the other side goes on: wrapped
    level: float = 0.45  # between noise and signal, from which a pixel is signal
    clutter_rows: float = 0.3  # of an unwrapped flow only this part is compared with its mirror
    least_signal: float = 0.0015  # share of the pixels of a side that must be signal
    tissue: BlurOptions = BlurOptions(narrow=1.5)  # a narrow band of speeds, no filled area


@dataclass(frozen=True, slots=True)
class FlowTrace:
    """The envelope of one side. ``is_cut`` says that it reaches past the scale."""

    curve: Curve
    envelope: Envelope
    sign: int
    is_unwrapped: bool = False
    is_cut: bool = False


def strength(sides: Sides, sign: int, options: FlowOptions = FlowOptions()) -> float:
    """Return how much signal one side holds that the other does not: share of its pixels."""
    own, other = _ordered(sides, sign)
    if own.grey.shape[0] < 8:
        return 0.0
    own_grey, other_grey = _blurred(own.grey), _blurred(opposite(own, other))
    whole = np.concatenate([own.grey, other.grey])
    noise = float(np.quantile(whole, 0.3))
    signal = float(np.quantile(whole, 0.995))
    level = noise + options.level * (signal - noise)
    alone = (own_grey > level) & (own_grey > 1.3 * other_grey)
    return float(alone.mean())


def trace_flow(
    sides: Sides, sign: int, *, tissue: bool = False, pulsed: bool = True,
    options: FlowOptions = FlowOptions(),
) -> FlowTrace:  # fmt: skip
    """Trace the flow above (1) or below (-1) the baseline.

    Parameters
    ----------
    sides : Sides
    sign : int
    tissue : bool
        A tissue spectrum: a narrow band, no wall echoes to be told from it.
    pulsed : bool
        Only a pulsed spectrum wraps around.
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
    reaching = _reaches_edge(side.grey, options)
    wrapped = pulsed and reaching.any() and _goes_on(other.grey, reaching, options)
    mirrored = None if tissue else opposite(side, other)
    grey = side.grey
    if wrapped:
        grey = np.concatenate([side.grey, other.grey[::-1]])
        mirrored = _near_part(mirrored, grey, options)
    choice = EnvelopeOptions()
    if tissue:
        choice = replace(choice, blur=options.tissue)
    envelope = trace_envelope(grey, mirrored, choice)
    shift = side.first_px - 1.0
    height = np.where(envelope.height_px > 0, envelope.height_px + shift, 0.0)
    curve = Curve(
        height, envelope.sd_px, envelope.width_px, envelope.contrast, envelope.is_click
    )
    cut = bool(reaching.any()) and not wrapped
    return FlowTrace(curve, envelope, sign, is_unwrapped=wrapped, is_cut=cut)


def _ordered(sides: Sides, sign: int) -> tuple[Side, Side]:
    return (sides.up, sides.down) if sign > 0 else (sides.down, sides.up)


def _blurred(grey: Floats) -> Floats:
    import cv2  # noqa: PLC0415  (slow to import)

    if grey.size == 0:
        return grey
    return np.asarray(cv2.GaussianBlur(grey, (0, 0), 1.5), dtype=np.float64)


def _reaches_edge(grey: Floats, options: FlowOptions) -> Bools:
    """Return the columns in which the flow reaches the end of the scale."""
    smooth = _blurred(grey)
    levels = noise_and_signal(smooth)
    level = levels.noise + options.level * (levels.signal - levels.noise)
    rows = options.edge_rows
    # a drawn letter is bright at the edge alone; a flow is bright for a good part of the side
    tall = (smooth[-8 * rows :] > level).mean(axis=0) > 0.8
    columns = (smooth[-rows:].mean(axis=0) > level) & tall
    if columns.mean() < options.edge_columns:
        return np.zeros(grey.shape[1], dtype=bool)
    return columns


def _goes_on(other: Floats, reaching: Bools, options: FlowOptions) -> bool:
    """Return whether the flow comes in again at the far end of the other side."""
    if other.shape[0] < 8 or not reaching.any():
        return False
    smooth = _blurred(other)
    rows = options.edge_rows
    outer = smooth[-3 * rows :].mean(axis=0)
    quiet = float(np.median(outer[~reaching])) if (~reaching).any() else 0.0
    bright = outer[reaching] > quiet + 0.3 * (float(np.quantile(smooth, 0.99)) - quiet)
    return float(bright.mean()) > options.both_edges


def _near_part(mirrored: Floats | None, grey: Floats, options: FlowOptions) -> Floats | None:
    """Return the mirror only where wall echoes are, in the size of the unwrapped side."""
    if mirrored is None:
        return None
    near = np.zeros_like(grey)
    rows = int(options.clutter_rows * mirrored.shape[0])
    near[:rows] = mirrored[:rows]
    return near
