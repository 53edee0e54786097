"""The colour table of a PALETTE COLOR image (PS3.3 C.7.6.3.1.5 and C.7.6.3.1.6)."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydicom.dataset import Dataset
from pydicom.pixels.processing import apply_color_lut

from tableside.errors import UnreadableFile


@dataclass(frozen=True, slots=True, eq=False)
class Palette:
    """``colours`` is (entries, 3), 8 bit; the first entry stands for the value ``first``."""

    first: int
    colours: NDArray[np.uint8]

    def paint(self, values: NDArray[Any]) -> NDArray[np.uint8]:
        """Return the colour of each value; values outside the table take its ends."""
        last = len(self.colours) - 1
        index = np.clip(values.astype(np.int32) - self.first, 0, last)
        return self.colours[index]


def read_palette(dataset: Dataset, *, is_big_endian: bool) -> Palette | None:
    """Return the colour table, or None when the header has none.

    Raises
    ------
    UnreadableFile
        When the table is there and shorter than it says.
    """
    if "SegmentedRedPaletteColorLookupTableData" in dataset:
        return _segmented(dataset)
    if "RedPaletteColorLookupTableData" not in dataset:
        return None

    planes = [_plane(dataset, name, ">" if is_big_endian else "<") for name in _COLOURS]
    first = int(dataset.RedPaletteColorLookupTableDescriptor[1])
    if len({len(plane) for plane in planes}) != 1:
        raise UnreadableFile(
            "its colour table has channels of different length: export it again"
        )
    return Palette(first=first, colours=np.stack(planes, axis=-1))


_COLOURS = ("Red", "Green", "Blue")


def _plane(dataset: Dataset, colour: str, order: str) -> NDArray[np.uint8]:

    entries, _, bits = (
        int(n) for n in dataset[f"{colour}PaletteColorLookupTableDescriptor"].value
    )
    entries = entries or 65536  # 0 stands for 65536
    data = dataset.get(f"{colour}PaletteColorLookupTableData") or b""
    if bits == 8 and len(data) < 2 * entries:
        plane = np.frombuffer(data, np.uint8)[:entries]
    else:
        words = np.frombuffer(data[: len(data) // 2 * 2], order + "u2")[:entries]
        is_wide = bits > 8 and words.size and int(words.max()) > 255
        plane = (words >> 8 if is_wide else words).astype(np.uint8)
    if len(plane) < entries:
        raise UnreadableFile("its colour table is shorter than it says: export it again")
    return plane


def _segmented(dataset: Dataset) -> Palette:
    """Let the library unroll a table that is stored in segments (PS3.3 C.7.9.2)."""
    entries, first, _ = (int(n) for n in dataset.RedPaletteColorLookupTableDescriptor)
    values = np.arange(first, first + (entries or 65536), dtype=np.uint16)
    colours = apply_color_lut(values.reshape(1, -1), dataset)[0]
    if colours.dtype != np.uint8:
        colours = (colours >> 8 if int(colours.max()) > 255 else colours).astype(np.uint8)
    return Palette(first=first, colours=np.asarray(colours, np.uint8))
