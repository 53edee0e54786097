"""Pictures for the letter: the frame that was measured, with what was traced and set on it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from tableside.model import Beat, Box, Image, Measurement, Mode, Reading
from tableside.report.digits import decimals, with_sd, written
from tableside.report.doubt import DOUBTED
from tableside.report.pen import Mark, PictureOptions, paint
from tableside.units import text

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Pixels = NDArray[np.uint8]  # (rows, columns) grey or (rows, columns, 3) RGB

DEFAULTS = PictureOptions()
Place = tuple[str, int]  # a file and a frame of it, from 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A picture ready to print: PNG bytes, what it shows, and the same in words."""

    file: str
    png: bytes
    caption: str
    measured: str
    alternative: str
    columns: int
    rows: int
    wide: bool = field(default=False)


def frames_to_show(reading: Reading, options: PictureOptions = DEFAULTS) -> tuple[Place, ...]:
    """Return which frame of which image belongs in the letter, the most telling first.

    Images behind a doubt go first, then those that gave most measurements; one frame a file.
    Whoever writes the letter decodes these frames and hands them over by file and frame.
    """
    frames: dict[str, Counter[int]] = {}
    for file, frame in _marked_frames(reading):
        frames.setdefault(file, Counter())[frame] += 1
    doubted = {
        file for check in reading.checks if check.verdict in DOUBTED for file in check.files
    }
    known = {image.file: place for place, image in enumerate(reading.exam.study.images)}

    def telling(file: str) -> tuple[bool, int, int]:
        return file not in doubted, -sum(frames[file].values()), known[file]

    chosen = sorted((file for file in frames if file in known), key=telling)[: options.pictures]
    return tuple((file, frames[file].most_common(1)[0][0]) for file in chosen)


def _marked_frames(reading: Reading) -> Iterable[Place]:
    for one in reading.exam.measurements:
        yield from ((beat.file, beat.frame) for beat in one.beats if beat.points and beat.used)
    yield from ((trace.file, trace.frame) for trace in reading.traces)


def draw_pictures(
    reading: Reading,
    pictures: Mapping[Place, Pixels],
    options: PictureOptions = DEFAULTS,
) -> list[Drawn]:
    """Draw the given frames with their traces and calipers.

    Parameters
    ----------
    reading : Reading
    pictures : mapping of (file, frame) to (rows, columns) or (rows, columns, 3) of uint8
        The frames that `frames_to_show` names; others are not looked at.
    options : PictureOptions

    Returns
    -------
    list of Drawn
        The most telling first, then the tall ones; a frame that was not given is left out.
    """
    drawn: list[Drawn] = []
    for file, frame in frames_to_show(reading, options):
        image = reading.exam.image(file)
        if image is not None and (file, frame) in pictures:
            size = options if drawn else _leading(options)
            drawn.append(_draw(reading, image, frame, (pictures[file, frame], size)))
    return drawn[:1] + sorted(drawn[1:], key=_shape)  # like shapes stand side by side


def _leading(options: PictureOptions) -> PictureOptions:
    """Return how the first picture is drawn: twice as wide on paper, with finer names."""
    return replace(
        options, width_px=round(1.4 * options.width_px), label_px=round(0.9 * options.label_px)
    )


def _shape(one: Drawn) -> float:
    return one.columns / one.rows


def _draw(
    reading: Reading, image: Image, frame: int, given: tuple[Pixels, PictureOptions]
) -> Drawn:
    pixels, options = given
    marks = [*_traces(reading, image, frame), *_calipers(reading, image, frame)]
    box = _crop(image, marks, options, pixels.shape)
    png, columns, rows = paint(pixels, marks, box, options)
    read = _read_here(reading, image, frame)
    return Drawn(
        file=image.file,
        png=png,
        caption=_title(image),
        measured=_values(read),
        alternative=_in_words(image, frame, read, marks),
        columns=columns,
        rows=rows,
        wide=columns > 2.2 * rows,
    )


def _traces(reading: Reading, image: Image, frame: int) -> list[Mark]:
    return [
        Mark(kind="trace", points=trace.points)
        for trace in reading.traces
        if (trace.file, trace.frame) == (image.file, frame) and trace.points
    ]


def _calipers(reading: Reading, image: Image, frame: int) -> list[Mark]:
    """Return the calipers of the frame; a quantity is named once."""
    marks, named = [], set()
    for one in _read_here(reading, image, frame):
        for beat in _beats_on(one, image, frame):
            label = one.quantity if beat.used and one.quantity not in named else None
            named |= {label}
            kind = "caliper" if beat.used else "unused"
            marks.append(Mark(kind=kind, points=beat.points, label=label))
    return marks


def _beats_on(one: Measurement, image: Image, frame: int) -> list[Beat]:
    here = (image.file, frame)
    return [beat for beat in one.beats if (beat.file, beat.frame) == here and beat.points]


def _read_here(reading: Reading, image: Image, frame: int) -> list[Measurement]:
    """Return what was measured on a frame; the heart rate only where nothing else was."""
    here = [one for one in reading.exam.measurements if _beats_on(one, image, frame)]
    return [one for one in here if one.quantity != "HR"] or here


def _crop(
    image: Image, marks: Sequence[Mark], options: PictureOptions, shape: Sequence[int]
) -> Box:
    """Return the part to show: the smallest region that holds most of the marks' points.

    A frame without such a region is shown whole.
    """
    rows, columns = shape[:2]
    points = [point for mark in marks for point in mark.points]
    held = {region.index: sum(map(region.holds, points)) for region in image.regions}
    fitting = [one for one in image.regions if held[one.index] > len(points) / 2]
    if not fitting:
        return 0, 0, columns - 1, rows - 1
    best = max(fitting, key=lambda region: (held[region.index], -region.area_px))
    left, top, right, bottom = best.box
    margin = options.margin_px
    return (
        max(0, left - margin),
        max(0, top - margin),
        min(columns - 1, right + margin),
        min(rows - 1, bottom + margin),
    )


def _title(image: Image) -> str:
    """Return what the picture shows, in the trade's words."""
    kinds = {
        Mode.TWO_D: "two-dimensional",
        Mode.M_MODE: "M-mode",
        Mode.COLOUR_M_MODE: "colour M-mode",
        Mode.COLOUR: "colour Doppler",
        Mode.SPECTRAL: "spectral Doppler",
        Mode.UNKNOWN: "picture",
    }
    mode = kinds[image.mode]
    shown = image.flow or image.mmode or image.view
    text = f"{shown}, {mode}" if shown else mode
    return text[0].upper() + text[1:]


def _values(read: Sequence[Measurement]) -> str:
    """Return the numbers that were read on the picture."""
    said = []
    for one in read:
        floor = written(one.value, decimals(one.sd, one.value))
        number = f"at least {floor}" if one.bound == "lower" else with_sd(one.value, one.sd)
        said.append(f"{one.quantity} {number} {text(one.unit)}")
    return "; ".join(said)


def _in_words(
    image: Image, frame: int, read: Sequence[Measurement], marks: Sequence[Mark]
) -> str:
    """Return the alternative text: what is seen by those who cannot see it."""
    where = f"frame {frame + 1} of {image.frames} of " if image.frames > 1 else ""
    names = ", ".join(dict.fromkeys(one.quantity for one in read))
    traced = sum(mark.kind == "trace" for mark in marks)
    drawn = [f"calipers for {names}"] if names else []
    drawn += [f"{traced} traced edge{'s' if traced > 1 else ''}"] if traced else []
    return f"Ultrasound picture, {where}{image.file}: {_title(image)}; with " + " and ".join(
        drawn
    )
