"""Where the frames of one file come from: DICOM, a still or a video, decoded on demand."""

import os
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from tableside.errors import UnreadableFile
from tableside.intake.browser_jpeg import LOSSY_JPEG, is_plain_jpeg, shows_as_stored
from tableside.intake.layout import Layout, read_spans
from tableside.intake.limits import MAX_FRAME_BYTES, MAX_FRAMES
from tableside.intake.pixel_format import PixelFormat
from tableside.intake.pixels import Pixels, decode_frame


class Source(Protocol):
    """One file that frames can be decoded from. ``wanted`` is in rising order."""

    @property
    def path(self) -> Path:
        """The file as it lies on the disk."""

    @property
    def size(self) -> tuple[int, int, int]:
        """Rows, columns, frames."""

    def frames(self, wanted: Sequence[int]) -> Iterator[Pixels]:
        """Yield the frames with these indices, one decoded frame in memory at a time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DicomSource:
    """Frames that are read from their place in the file and decoded one by one."""

    path: Path
    layout: Layout
    form: PixelFormat

    @property
    def size(self) -> tuple[int, int, int]:
        """Rows, columns, frames."""
        return self.form.rows, self.form.columns, self.form.frames

    def frames(self, wanted: Sequence[int]) -> Iterator[Pixels]:
        """Yield the frames with these indices."""
        with self.layout.path.open("rb") as stream:
            for index in wanted:
                yield decode_frame(read_spans(stream, self.layout.frames[index]), self.form)

    def stored_jpeg(self, index: int) -> bytes | None:
        """Return the stored bytes of a frame that any browser shows right; else None."""
        if self.form.syntax not in LOSSY_JPEG or not shows_as_stored(self.form):
            return None
        data = self.layout.read(index)
        return data if is_plain_jpeg(data, self.form) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class StillSource:
    """One PNG or JPEG picture. Its stored pixels count: no turning by EXIF."""

    path: Path
    size: tuple[int, int, int]

    def frames(self, wanted: Sequence[int]) -> Iterator[Pixels]:
        """Yield the picture for every index, which can only be 0."""
        from PIL import Image as Picture  # noqa: PLC0415

        for _ in wanted:
            try:
                with Picture.open(self.path) as picture:
                    mode = "L" if picture.mode in ("1", "L", "I;16") else "RGB"
                    yield np.asarray(picture.convert(mode), np.uint8)
            except (OSError, ValueError, SyntaxError, MemoryError) as error:
                raise UnreadableFile(
                    "the picture is broken or cut off: export it again"
                ) from error


@dataclass(frozen=True, slots=True, kw_only=True)
class VideoSource:
    """An MP4 or AVI film, or the film inside a DICOM object, decoded in order."""

    path: Path
    film: Path
    size: tuple[int, int, int]

    def frames(self, wanted: Sequence[int]) -> Iterator[Pixels]:
        """Yield the frames with these indices; films are not sought in, which is unreliable."""
        cv2 = _cv2()
        capture = cv2.VideoCapture(str(self.film))
        try:
            position = -1
            for index in wanted:
                while position < index - 1 and capture.grab():
                    position += 1
                is_there, frame = capture.read()
                position += 1
                if not is_there or frame.shape[:2] != self.size[:2]:
                    raise UnreadableFile(f"frame {index} of the film cannot be decoded")
                yield cv2.cvtColor(frame, cv2.COLOR_BGR2RGB)
        finally:
            capture.release()


def still_source(path: Path) -> StillSource:
    """Open a PNG or JPEG.

    Raises
    ------
    UnreadableFile
        When it is broken or larger than the limit.
    """
    from PIL import Image as Picture  # noqa: PLC0415

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Picture.open(path, formats=("PNG", "JPEG")) as picture:
                columns, rows = picture.size
    except Picture.DecompressionBombError as error:
        raise UnreadableFile("the picture is larger than any ultrasound image") from error
    except (OSError, ValueError, SyntaxError) as error:
        raise UnreadableFile("the picture is broken or cut off: export it again") from error
    _require_size(rows, columns)
    return StillSource(path=path, size=(rows, columns, 1))


def video_source(path: Path, film: Path | None = None) -> tuple[VideoSource, float]:
    """Open a film; also return its frames a second, 0 when it does not say.

    Raises
    ------
    UnreadableFile
        When no frame of it can be decoded, or it is larger than the limits.
    """
    cv2 = _cv2()
    capture = cv2.VideoCapture(str(film or path))
    try:
        if not capture.isOpened():
            raise UnreadableFile("the film cannot be opened: export it as MP4 (H.264) or AVI")
        is_there, first = capture.read()
        if not is_there:
            raise UnreadableFile("the film holds no picture: export it again")
        rows, columns = first.shape[:2]
        _require_size(rows, columns)
        frames = 1
        while frames <= MAX_FRAMES and capture.grab():
            frames += 1
        rate = float(capture.get(cv2.CAP_PROP_FPS))
    except cv2.error as error:
        raise UnreadableFile("the film is broken: export it again") from error
    finally:
        capture.release()
    if frames > MAX_FRAMES:
        raise UnreadableFile(f"the film has more than {MAX_FRAMES} frames: cut it")
    source = VideoSource(path=path, film=film or path, size=(rows, columns, frames))
    return source, rate if 0 < rate < 1000 else 0.0


def _require_size(rows: int, columns: int) -> None:
    if rows * columns * 3 > MAX_FRAME_BYTES:
        raise UnreadableFile(
            f"a picture of {columns} x {rows} pixels, larger than any ultrasound image"
        )


def _cv2() -> Any:
    """Import OpenCV late, and keep its decoder from writing to the terminal."""
    os.environ.setdefault("OPENCV_FFMPEG_LOGLEVEL", "-8")
    import cv2  # noqa: PLC0415

    cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)
    return cv2
