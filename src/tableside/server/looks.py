"""What was seen on each image, remembered: an edit of one image makes no other be looked at."""

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import Generic, TypeVar

from tableside.automatic import ImageReading
from tableside.automatic.cine_mmode import CineMMode, cine_mmode
from tableside.corrections.facts import Line
from tableside.intake import OpenedStudy
from tableside.model import Image
from tableside.reading import Looked, Progress, look

LOOKS_AN_IMAGE = 4  # labels and scales that were tried; a look costs up to a second
LINES = 64
K = TypeVar("K")
V = TypeVar("V")


class Looks:
    """Looks at the images of one study. What it finds depends on its arguments alone."""

    def __init__(self, opened: OpenedStudy) -> None:
        self._opened = opened
        self._images: _Remembered[Image, Looked] = _Remembered(
            LOOKS_AN_IMAGE * len(opened.study.images)
        )
        self._lines: _Remembered[tuple[Image, Line], CineMMode] = _Remembered(LINES)

    def look_at_all(self, progress: Progress) -> None:
        """Look at every image as the files describe it, telling how far this has come."""
        images = self._opened.study.images
        for position, image in enumerate(images, start=1):
            progress(image.file, position, len(images))
            self.image(image)

    def image(self, image: Image) -> Looked:
        """Return what is found on an image."""
        return self._images.get(image, lambda: look(self._opened, image))

    def mmode(self, image: Image, line: Line) -> CineMMode:
        """Return the M-mode along a line of a cine.

        Raises
        ------
        NotMeasurable
            When there is none to be had.
        """
        return self._lines.get(
            (image, line), lambda: cine_mmode(image, self._opened.frames(image.file), line)
        )

    def line(self, image: Image, line: Line) -> ImageReading:
        """Return what the M-mode along a line gives to the reading."""
        found = self.mmode(image, line)
        notes = tuple(f"{image.file}: {note}" for note in found.notes)
        return ImageReading(measurements=found.measurements, notes=notes)


class _Remembered(Generic[K, V]):
    """The answers used last. Two threads may compute the same one; both get it."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._known: OrderedDict[K, V] = OrderedDict()
        self._lock = Lock()

    def get(self, key: K, compute: Callable[[], V]) -> V:
        with self._lock:
            if key in self._known:
                self._known.move_to_end(key)
                return self._known[key]
        value = compute()
        with self._lock:
            self._known[key] = value
            while len(self._known) > self._most:
                self._known.popitem(last=False)
        return value
