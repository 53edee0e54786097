"""What the program measures by itself: which step serves which image.

Each module takes an image record and its pixels, calls the imaging steps and hands what they
found to `measure`.
"""

from dataclasses import dataclass

from tableside.model import Measurement, Trace


@dataclass(frozen=True, slots=True, kw_only=True)
class ImageReading:
    """What was found on one image. ``notes`` say what could not be measured, and why."""

    measurements: tuple[Measurement, ...] = ()
    traces: tuple[Trace, ...] = ()
    notes: tuple[str, ...] = ()
