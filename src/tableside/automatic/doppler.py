"""Measure a spectral Doppler image by the flow that its label names."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot

import numpy as np

from tableside.automatic import ImageReading
from tableside.automatic.doppler_flows import READERS, Found, Task
from tableside.automatic.ecg import ecg_mask
from tableside.errors import NotMeasurable, TablesideError
from tableside.imaging.beats import BeatOptions
from tableside.imaging.cycles import BeatWindow, beat_windows
from tableside.imaging.flow import FlowKind, FlowTrace, strength, trace_flow
from tableside.imaging.spectrum import Sides, split_sides
from tableside.imaging.types import Pixels
from tableside.imaging.waves import Wave, WaveOptions, find_waves, without_ghosts
from tableside.measure.doppler import Ruler, measure_or_say
from tableside.model import (
    Image,
    Measurement,
    Region,
    RegionKind,
    Rhythm,
    Trace,
    quantity,
)

MOST_POINTS = 400
TISSUE_WAVES = WaveOptions(blur_share=0.70, peak_share=0.045)  # a narrow band is less sure
# a pulsed flow has a thin bright rim: grain and the window of time move its top more
PULSED_WAVES = WaveOptions(blur_share=0.50, peak_share=0.032)
TIMING_S = 0.004  # where a flow begins and ends, besides the columns; measured on drawn spectra
SLOW_S_PER_COLUMN = 0.006  # at a slower sweep a wave is a few columns wide
LEAST_USUAL = 0.004  # with more signal than this share of the pixels the usual side holds it
INSET_PX = 2  # many machines frame the spectrum


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowRule:
    """Where a flow is looked for: its usual side, and when the other side is taken instead.

    ``either`` is how little of the other side's signal the usual side may hold before the
    other one is taken: small for flows that share their picture with an opposite flow.
    """

    sign: int
    either: float = 0.10
    tissue: bool = False


RULES = {
    "mitral inflow": FlowRule(sign=1),
    "mitral regurgitation": FlowRule(sign=-1, either=0.03),
    "tricuspid regurgitation": FlowRule(sign=-1, either=0.05),
    "aortic outflow": FlowRule(sign=-1),
    "aortic regurgitation": FlowRule(sign=1, either=0.03),
    "pulmonic outflow": FlowRule(sign=-1, either=0.25),
    "pulmonic regurgitation": FlowRule(sign=1, either=0.03),
    "mitral annulus septal": FlowRule(sign=1, tissue=True),
    "mitral annulus lateral": FlowRule(sign=1, tissue=True),
}


def measure_spectrum(image: Image, pixels: Pixels, rhythm: Rhythm | None) -> ImageReading:
    """Measure what the flow of a spectral Doppler image gives.

    Parameters
    ----------
    image : Image
        ``image.flow`` says which flow it is.
    pixels : (rows, columns, 3) or (rows, columns)
        The picture; of a cine its last frame.
    rhythm : Rhythm or None
        R waves of this image; without them the waves themselves give the beats.

    Returns
    -------
    ImageReading
        With a note for everything that could not be measured.
    """
    try:
        found, notes, traces = _read(image, pixels, rhythm)
    except TablesideError as error:
        return ImageReading(notes=(f"{image.file}: {error}",))
    measurements, missing = _measure(found, image, rhythm)
    said = tuple(f"{image.file}: {note}" for note in (*notes, *missing))
    return ImageReading(measurements=measurements, traces=traces, notes=said)


def _read(
    image: Image, pixels: Pixels, rhythm: Rhythm | None
) -> tuple[list[Found], list[str], tuple[Trace, ...]]:
    region = _region(image)
    rule = _rule(image)
    left, top, right, bottom = _inner_box(image, region)
    drawn = ecg_mask(rhythm, pixels.shape[:2])[top:bottom, left:right]
    sides = split_sides(pixels[top:bottom, left:right], region.baseline_row - top, drawn)
    sign, notes = _side(sides, rule)
    hidden = region.box[3] + 1 - region.box[1] - (bottom - top)
    kind = FlowKind(
        tissue=rule.tissue, pulsed=region.wave != "continuous", hidden_rows=max(0, hidden)
    )
    flows = _flows(sides, sign, region.s_per_column, kind)
    options = _wave_options(rule.tissue, kind.pulsed, region.s_per_column)
    waves = _find_waves(flows, options)
    task = Task(
        flow=image.flow or "",
        rulers={one: _ruler(image, region, left, one) for one in flows},
        curves={one: flow.curve for one, flow in flows.items()},
        waves=waves,
        beats=_beats(rhythm, left, flows, region),
        rhythm=rhythm,
        is_cut=any(flow.is_cut for flow in flows.values()),
        at_end={one: flow.at_end for one, flow in flows.items()},
    )
    found, said = READERS[task.flow](task)
    if any(flow.is_unwrapped for flow in flows.values()):
        found = [one for one in found if quantity(one.quantity).kind == "velocity"]
        notes.append(
            "the flow was faster than the scale and has been unwrapped: its peak alone is "
            "given, not its integral and times; shift the baseline"
        )
    traces = tuple(_trace(image, region, left, flow, waves[one]) for one, flow in flows.items())
    return found, [*notes, *said], traces


def _flows(
    sides: Sides, sign: int, s_per_column: float, kind: FlowKind
) -> dict[int, FlowTrace]:
    """Follow the flow on its side of the baseline; tissue moves on both."""
    flows: dict[int, FlowTrace] = {}
    for one in (1, -1) if kind.tissue else (sign,):
        try:
            flows[one] = trace_flow(sides, one, s_per_column, kind)
        except NotMeasurable:
            if not kind.tissue:
                raise
    if not flows:
        raise NotMeasurable("no Doppler signal stands out of the noise; raise the gain")
    return flows


def _wave_options(is_tissue: bool, is_pulsed: bool, s_per_column: float) -> WaveOptions:
    """Return how waves are looked for: wider in time where a column is long."""
    options = TISSUE_WAVES if is_tissue else PULSED_WAVES if is_pulsed else WaveOptions()
    timing = hypot(options.timing_columns, TIMING_S / s_per_column)
    options = replace(options, timing_columns=timing)
    if s_per_column > SLOW_S_PER_COLUMN:
        options = replace(options, median_columns=3, least_columns=3)
    return options


def _find_waves(flows: dict[int, FlowTrace], options: WaveOptions) -> dict[int, list[Wave]]:
    """Return the waves of each side; of tissue, both sides, without mirror images."""
    waves = {one: find_waves(flow.curve, options) for one, flow in flows.items()}
    if len(flows) < 2:
        return waves
    steps = {one: flow.envelope.levels for one, flow in flows.items()}
    lit = {
        one: [
            replace(w, contrast=w.contrast * (level.signal - level.noise)) for w in waves[one]
        ]
        for one, level in steps.items()
    }
    return {one: without_ghosts(lit[one], lit[-one]) for one in lit}


def _region(image: Image) -> Region:
    region = image.region(RegionKind.SPECTRAL)
    if region is None:
        raise NotMeasurable("no spectral Doppler region with a scale on this image")
    doubt = image.doubt or region.doubt
    if doubt is not None:
        raise NotMeasurable(f"not measured: {doubt}")
    # both raise when the scale is missing
    _ = region.baseline_row, region.s_per_column
    return region


def _rule(image: Image) -> FlowRule:
    if image.flow is None:
        raise NotMeasurable(
            "not measured: which flow is it? Say so in worksheet.toml, [[image]] flow"
        )
    if image.flow not in RULES:
        raise NotMeasurable(f"nothing is measured on {image.flow}")
    return RULES[image.flow]


def _inner_box(image: Image, region: Region) -> tuple[int, int, int, int]:
    left, top, right, bottom = region.box
    return (
        max(0, left + INSET_PX),
        max(0, top + INSET_PX),
        min(image.columns, right + 1 - INSET_PX),
        min(image.rows, bottom + 1 - INSET_PX),
    )


def _side(sides: Sides, rule: FlowRule) -> tuple[int, list[str]]:
    """Return the side that holds the flow, with a note when it is not the usual one."""
    if rule.tissue:
        return rule.sign, []
    usual, other = strength(sides, rule.sign), strength(sides, -rule.sign)
    if usual >= min(rule.either * other, LEAST_USUAL):
        return rule.sign, []
    names = {1: "above", -1: "below"}
    return -rule.sign, [
        f"the flow lies {names[-rule.sign]} the baseline, usually it lies {names[rule.sign]} "
        "it: check the label and whether the display is inverted"
    ]


def _ruler(image: Image, region: Region, left: int, sign: int) -> Ruler:
    return Ruler(
        file=image.file, frame=image.frames - 1, region=region, left=float(left), sign=sign
    )


def _beats(
    rhythm: Rhythm | None, left: int, flows: dict[int, FlowTrace], region: Region
) -> list[BeatWindow]:
    if rhythm is None or rhythm.source == "file":
        return []
    columns = next(iter(flows.values())).curve.columns
    r = [wave.column - left for wave in rhythm.r_waves]
    return beat_windows(r, columns, region.s_per_column)


def _measure(
    found: list[Found], image: Image, rhythm: Rhythm | None
) -> tuple[tuple[Measurement, ...], list[str]]:
    region = _region(image)
    irregular = _is_irregular(rhythm)
    measurements: list[Measurement] = []
    missing: list[str] = []
    for one in found:
        known = {made.quantity for made in measurements}
        if not one.beats or (one.after is not None and one.after not in known):
            continue
        made, why = measure_or_say(
            one.quantity,
            one.beats,
            region,
            irregular=irregular,
            detail=one.detail,
            bound=one.bound,
        )
        if made is not None:
            measurements.append(made)
        elif why is not None:
            missing.append(why)
    return tuple(measurements), missing


def _is_irregular(rhythm: Rhythm | None) -> bool:
    """Return whether the intervals differ so much that the beats must too."""
    if rhythm is None or any(wave.reason for wave in rhythm.r_waves):
        return False
    intervals = np.array(rhythm.rr_s)
    spread = float(np.std(intervals) / np.mean(intervals)) if intervals.size > 1 else 0.0
    return spread > BeatOptions().irregular


def _trace(
    image: Image, region: Region, left: int, flow: FlowTrace, waves: Sequence[Wave]
) -> Trace:
    """Return the line to show: the waves, and the baseline between them."""
    height = flow.curve.height_px
    shown = np.zeros_like(height)
    for wave in waves:
        part = slice(wave.first, wave.last + 1)
        shown[part] = np.maximum(shown[part], height[part])
    step = max(1, -(-height.size // MOST_POINTS))
    rows = region.baseline_row - flow.sign * shown
    points = tuple((float(left + i), float(rows[i])) for i in range(0, height.size, step))
    return Trace(file=image.file, frame=image.frames - 1, name="envelope", points=points)


__all__ = ["RULES", "Wave", "measure_spectrum"]
