"""Frames as JPEG: the stored bytes where a browser shows them right, else made once."""

import struct
from collections import OrderedDict
from collections.abc import Iterator
from threading import Lock

import cv2
import numpy as np

from tableside.errors import OutOfRange
from tableside.imaging.types import Pixels
from tableside.intake import OpenedStudy
from tableside.model import Image

RUN = 64  # frames of a longer film that are made at once: films cannot be sought in
WHOLE = 600  # a film of up to so many frames is made as a whole
Key = tuple[str, int, int]


class FrameCache:
    """Transcoded frames in memory, the ones not asked for longest given up first."""

    def __init__(self, most_bytes: int, quality: int) -> None:
        self._most_bytes = most_bytes
        self._quality = quality
        self._frames: OrderedDict[Key, bytes] = OrderedDict()
        self._bytes = 0
        self._lock = Lock()
        self._making: dict[tuple[str, int], Lock] = {}

    @property
    def size_bytes(self) -> int:
        """Bytes held."""
        return self._bytes

    def get(
        self, study: str, opened: OpenedStudy, place: tuple[int, Image], frame: int
    ) -> bytes:
        """Return one frame as JPEG.

        Raises
        ------
        OutOfRange
            For a frame that the image does not have.
        UnreadableFile
            When the frame is broken.
        """
        number, image = place
        stored = opened.stored_jpeg(image.file, frame)
        if stored is not None:
            return stored
        found = self._look_up((study, number, frame))
        return found if found is not None else self._make(study, opened, place, frame)

    def _look_up(self, key: Key) -> bytes | None:
        with self._lock:
            found = self._frames.get(key)
            if found is not None:
                self._frames.move_to_end(key)
            return found

    def _make(
        self, study: str, opened: OpenedStudy, place: tuple[int, Image], frame: int
    ) -> bytes:
        number, image = place
        with self._lock:
            making = self._making.setdefault((study, number), Lock())
        with making:
            found = self._look_up((study, number, frame))
            if found is not None:
                return found
            for index, pixels in _run(opened, image, frame):
                data = encode_jpeg(pixels, self._quality)
                self._keep((study, number, index), data)
                if index == frame:
                    found = data
        if found is None:
            raise OutOfRange(f"frame {frame}; the image has {image.frames}")
        return found

    def _keep(self, key: Key, data: bytes) -> None:
        with self._lock:
            self._bytes += len(data) - len(self._frames.pop(key, b""))
            self._frames[key] = data
            while self._bytes > self._most_bytes and len(self._frames) > 1:
                _, old = self._frames.popitem(last=False)
                self._bytes -= len(old)


def _run(opened: OpenedStudy, image: Image, frame: int) -> Iterator[tuple[int, Pixels]]:
    if opened.can_seek(image.file):
        yield frame, opened.frame(image.file, frame)
        return
    first = 0 if image.frames <= WHOLE else frame // RUN * RUN
    last = image.frames if image.frames <= WHOLE else min(image.frames, first + RUN)
    yield from enumerate(opened.frames(image.file, range(first, last)), start=first)


def encode_jpeg(pixels: Pixels, quality: int) -> bytes:
    """Return a picture as JPEG with full colour resolution."""
    shown = pixels if pixels.ndim == 2 else cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR)
    options = [
        cv2.IMWRITE_JPEG_QUALITY,
        quality,
        cv2.IMWRITE_JPEG_SAMPLING_FACTOR,
        cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444,
    ]
    _, data = cv2.imencode(".jpg", shown, options)
    return bytes(data)


def thumbnail(pixels: Pixels, longest_px: int) -> bytes:
    """Return a small picture of a frame."""
    share = longest_px / max(pixels.shape[:2])
    if share < 1:
        size = (max(1, round(pixels.shape[1] * share)), max(1, round(pixels.shape[0] * share)))
        small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
        pixels = np.asarray(small, np.uint8)
    return encode_jpeg(pixels, 85)


def pack(frames: list[bytes]) -> bytes:
    """Join frames, each after its length as a big-endian unsigned 32-bit number."""
    return b"".join(struct.pack(">I", len(one)) + one for one in frames)
