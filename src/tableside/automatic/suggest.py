"""Suggest what an unlabelled M-mode or spectrum shows, and how sure that is.

The worksheet's word always wins. Without it an image is measured only when one label reaches
the certainty of ``data/suggest.toml``; otherwise it waits for its label, and says which two are
the likeliest. Flows that look alike (both inflows, both outflows, both sides of the annulus)
share the probability: geometry and timing cannot part them, a view label can.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from tableside.automatic.suggest_model import load_kind, weigh
from tableside.errors import NotMeasurable, TablesideError
from tableside.imaging.flow_kind import SpectrumScale, flow_features
from tableside.imaging.level import level_features
from tableside.imaging.spectrum import split_sides
from tableside.imaging.types import Pixels
from tableside.model import Box, Image, Region, RegionKind, Rhythm, Suggestion

INSET_PX = 2  # many machines frame their tracings
LEAST_PX = 40  # a smaller tracing shows nothing
LEAST_EVIDENCE = 0.3  # of a feature, to be told as speaking for a label; natural logarithm
MOST_REASONS = 4
WORDS = {"mmode": "M-mode", "flow": "spectrum"}


def suggest(image: Image, pixels: Pixels, rhythm: Rhythm | None) -> Suggestion | None:
    """Say what an unlabelled image probably shows.

    Parameters
    ----------
    image : Image
        Its view label, where given, counts as prior knowledge.
    pixels : (rows, columns) or (rows, columns, 3)
        The picture; of a cine its last frame.
    rhythm : Rhythm or None
        R waves in columns of the image; without them timing says nothing.

    Returns
    -------
    Suggestion or None
        None where the image has its label, holds no tracing with a usable scale, hides it
        under colour, or shows nothing that can be looked at.
    """
    found = look(image, pixels, rhythm)
    return None if found is None else judge(image, *found)


def look(
    image: Image, pixels: Pixels, rhythm: Rhythm | None
) -> tuple[str, Mapping[str, float]] | None:
    """Return which label is missing, ``mmode`` or ``flow``, and what the tracing shows.

    None where no label is missing or nothing can be looked at.
    """
    try:
        spectral, mmode = image.region(RegionKind.SPECTRAL), image.region(RegionKind.M_MODE)
        if spectral is not None and image.flow is None:
            return "flow", _spectrum(image, pixels, spectral, rhythm)
        if spectral is None and mmode is not None and image.mmode is None:
            return "mmode", _mmode(image, pixels, mmode)
    except TablesideError:
        return None
    return None


def judge(image: Image, name: str, features: Mapping[str, float]) -> Suggestion:
    """Return what the features of an image make of its labels; ``name`` as `look` gives it."""
    kind = load_kind(name)
    weighed = weigh(kind, features, image.view)
    reasons = [
        kind.features[feature].say(features[feature])
        for feature, evidence in weighed.evidence[:MOST_REASONS]
        if evidence > LEAST_EVIDENCE
    ]
    if image.view in kind.views:
        reasons.append(f"the view is {image.view}")
    best = max(kind.labels, key=lambda label: weighed.probabilities[label])
    is_certain = weighed.probabilities[best] >= kind.certainty
    return Suggestion(
        kind=name,
        probabilities=weighed.probabilities,
        evidence=tuple(reasons),
        certain=best if is_certain else None,
    )


def labelled(image: Image, suggestion: Suggestion | None) -> Image:
    """Return the image with the suggested label when it is certain, and a note in any case.

    Parameters
    ----------
    image : Image
        An image without the label.
    suggestion : Suggestion or None
        What `suggest` gave for it; with None the image comes back as it is.
    """
    if suggestion is None:
        return image
    what, key = WORDS[suggestion.kind], suggestion.kind
    label = suggestion.certain
    if label is None:
        return replace(image, notes=(*image.notes, _waiting(suggestion)))
    note = (
        f"read as {label} {what} with probability {suggestion.probabilities[label]:.2f} "
        f"({'; '.join(suggestion.evidence)}); the worksheet can say otherwise ({key})"
    )
    notes = (*image.notes, note)
    if key == "mmode":
        return replace(image, mmode=label, notes=notes)
    return replace(image, flow=label, notes=notes)


def _waiting(suggestion: Suggestion) -> str:
    (first, p), (second, q) = suggestion.likeliest[:2]
    return (
        f"this {WORDS[suggestion.kind]} waits for its label: it may be {first} ({p:.2f}) or "
        f"{second} ({q:.2f}); set {suggestion.kind} in its [[image]] of the worksheet"
    )


def _mmode(image: Image, pixels: Pixels, region: Region) -> dict[str, float]:
    left, top, right, bottom = _inside(image, pixels, region)
    tracing = pixels[top : bottom + 1, left : right + 1]
    found = level_features(
        tracing, cm_per_row=region.cm_per_row, s_per_column=region.s_per_column
    )
    return dict(found)


def _spectrum(
    image: Image, pixels: Pixels, region: Region, rhythm: Rhythm | None
) -> dict[str, float]:
    left, top, right, bottom = _inside(image, pixels, region)
    band = pixels[top : bottom + 1, left : right + 1]
    sides = split_sides(band, region.baseline_row - top)
    scale = SpectrumScale(
        m_s_per_row=region.m_s_per_row,
        s_per_column=region.s_per_column,
        r_columns=_r_columns(rhythm, left),
        is_pulsed=region.wave != "continuous",
    )
    found = dict(flow_features(sides, scale))
    if region.wave is not None:
        found["continuous"] = float(region.wave == "continuous")
    return found


def _inside(image: Image, pixels: Pixels, region: Region) -> Box:
    """Return the box of the tracing inside its frame; raise where it shows nothing."""
    doubt = image.doubt or region.doubt
    if doubt:
        raise NotMeasurable(doubt)
    left, top, right, bottom = region.box
    height, width = pixels.shape[:2]
    box = (
        max(left, 0) + INSET_PX,
        max(top, 0) + INSET_PX,
        min(right, width - 1) - INSET_PX,
        min(bottom, height - 1) - INSET_PX,
    )
    if box[2] - box[0] < LEAST_PX or box[3] - box[1] < LEAST_PX:
        raise NotMeasurable("the region is too small to hold a tracing")
    if np.ptp(pixels[box[1] : box[3], box[0] : box[2]]) == 0:
        raise NotMeasurable("the region is empty")
    return box


def _r_columns(rhythm: Rhythm | None, left: int) -> tuple[float, ...]:
    if rhythm is None or rhythm.source == "file":
        return ()
    return tuple(sorted(wave.column - left for wave in rhythm.r_waves))
