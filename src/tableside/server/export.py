"""A picture or clip for a letter or a lecture: the names that are burned in are masked.

What is shown is what the machine calibrated, and nothing else: writing stands beside it. A
person should still look before giving it away.
"""

import io
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

import cv2
import numpy as np

from tableside.errors import NotMeasurable, OutOfRange
from tableside.imaging.types import Pixels
from tableside.model import Box, Image, Point, Reading, RegionKind
from tableside.server.live_study import LiveStudy
from tableside.server.shapes.tools import ExportGiven

MOST_FRAMES = 600
MOST_SHARE = 0.98  # of the picture; a part that is all of it would mask nothing
USUAL_FRAME_S = 1 / 30
SHOWN = (
    RegionKind.TWO_D,
    RegionKind.COLOUR,
    RegionKind.M_MODE,
    RegionKind.COLOUR_M_MODE,
    RegionKind.SPECTRAL,
    RegionKind.ECG,
)
LINE_RGB, POINT_RGB = (120, 220, 255), (255, 214, 102)
TYPES = {"png": "image/png", "gif": "image/gif", "mp4": "video/mp4"}


def export(live: LiveStudy, given: ExportGiven) -> bytes:
    """Return the file.

    Raises
    ------
    NotMeasurable
        When nothing says which part of the picture may be shown.
    OutOfRange
        For frames that the image does not have, or too many.
    """
    image = live.image(given.image)
    first, last = given.first, given.first if given.last is None else given.last
    if last >= image.frames:
        raise OutOfRange(f"frame {last}; the image has frames 0 to {image.frames - 1}")
    if last - first >= MOST_FRAMES:
        raise OutOfRange(
            f"{last - first + 1} frames; at most {MOST_FRAMES} are exported at once"
        )
    if given.format == "png" and last > first:
        raise OutOfRange("a PNG holds one frame; export MP4 or GIF for a clip")
    mask = _mask(image, given.keep)
    state = live.require_state()
    frames = (
        _prepared(pixels, mask, _drawing(image, number, state.now.reading, given.drawing))
        for number, pixels in enumerate(
            live.opened.frames(image.file, range(first, last + 1)), start=first
        )
    )
    step_s = _frame_s(image)
    if given.format == "png":
        return _png(next(iter(frames)))
    return _gif(frames, step_s) if given.format == "gif" else _mp4(frames, step_s)


def _mask(image: Image, keep: Sequence[Sequence[int]] | None) -> Pixels:
    boxes: list[Box]
    if keep is not None:
        boxes = [(box[0], box[1], box[2], box[3]) for box in keep]
    else:
        boxes = [region.box for region in image.regions if region.kind in SHOWN]
    mask = np.zeros((image.rows, image.columns), np.uint8)
    for left, top, right, bottom in boxes:
        mask[max(0, top) : bottom + 1, max(0, left) : right + 1] = 1
    if not mask.any() or (keep is None and mask.mean() > MOST_SHARE):
        raise NotMeasurable(
            "nothing on this image says where the picture ends and the writing begins; mark "
            "the part to keep"
        )
    return mask


def _prepared(
    pixels: Pixels, mask: Pixels, drawing: list[tuple[str, tuple[Point, ...]]]
) -> Pixels:
    shown = pixels if pixels.ndim == 3 else np.repeat(pixels[..., None], 3, axis=2)
    shown = np.ascontiguousarray(shown * mask[..., None])
    for kind, points in drawing:
        _draw(shown, kind, points)
    return shown


def _drawing(
    image: Image, frame: int, reading: Reading, is_wanted: bool
) -> list[tuple[str, tuple[Point, ...]]]:
    if not is_wanted:
        return []
    traces = [
        ("trace", trace.points)
        for trace in reading.traces
        if (trace.file, trace.frame) == (image.file, frame)
    ]
    beats = [
        ("beat", beat.points)
        for one in reading.exam.measurements
        for beat in one.beats
        if (beat.file, beat.frame) == (image.file, frame) and beat.used and beat.points
    ]
    return traces + beats


def _draw(pixels: Pixels, kind: str, points: tuple[Point, ...]) -> None:
    """Draw a line with sub-pixel ends (OpenCV counts in sixteenths with ``shift`` 4)."""
    sixteenths = np.rint(np.asarray(points) * 16).astype(np.int32).reshape(-1, 1, 2)
    colour = LINE_RGB if kind == "trace" else POINT_RGB
    cv2.polylines(pixels, [sixteenths], False, colour, 1, cv2.LINE_AA, 4)
    if kind == "beat" and len(points) <= 2:
        for point in sixteenths[:, 0]:
            centre = int(point[0]), int(point[1])
            cv2.circle(pixels, centre, 3 * 16, colour, 1, cv2.LINE_AA, 4)


def _frame_s(image: Image) -> float:
    if len(image.frame_times_s) < 2:
        return USUAL_FRAME_S
    return float(np.median(np.diff(image.frame_times_s))) or USUAL_FRAME_S


def _png(frame: Pixels) -> bytes:
    _, data = cv2.imencode(".png", cv2.cvtColor(frame, cv2.COLOR_RGB2BGR))
    return bytes(data)


def _gif(frames: Iterator[Pixels], step_s: float) -> bytes:
    """Return an animation; a GIF counts in hundredths, and players stop below two of them."""
    from PIL import Image as Picture  # noqa: PLC0415

    first, *rest = (Picture.fromarray(frame) for frame in frames)
    sink = io.BytesIO()
    duration_ms = max(20, 10 * round(100 * step_s))
    first.save(
        sink, format="GIF", save_all=True, append_images=rest, duration=duration_ms, loop=0
    )
    return sink.getvalue()


def _mp4(frames: Iterator[Pixels], step_s: float) -> bytes:
    with tempfile.TemporaryDirectory(prefix="tableside-") as folder:
        path = Path(folder, "clip.mp4")
        writer = None
        for frame in frames:
            even = frame[: frame.shape[0] // 2 * 2, : frame.shape[1] // 2 * 2]
            if writer is None:
                writer = _writer(path, 1 / step_s, (even.shape[1], even.shape[0]))
            writer.write(cv2.cvtColor(even, cv2.COLOR_RGB2BGR))
        if writer is not None:
            writer.release()
        return path.read_bytes()


def _writer(path: Path, rate: float, size: tuple[int, int]) -> cv2.VideoWriter:
    """Open an MPEG-4 film: what a browser plays (VP9) takes forty times as long to write."""
    fourcc = cv2.VideoWriter.fourcc(*"mp4v")
    writer = cv2.VideoWriter(str(path), cv2.CAP_FFMPEG, fourcc, rate, size)
    if not writer.isOpened():
        raise NotMeasurable("no MP4 can be written on this machine; export a GIF")
    return writer
