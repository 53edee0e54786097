"""The kind of picture that ImageType states, where the regions leave it open.

Source: DICOM PS3.3 C.8.5.6.1.1: the fourth value is a sum of hexadecimal flags.
"""

from typing import Any

from pydicom.dataset import Dataset

from tableside.model import Mode

_COLOUR = 0x0010
_FLAGS = (  # the most telling first
    (0x000C, Mode.SPECTRAL),  # continuous or pulsed
    (0x0020, Mode.COLOUR_M_MODE),
    (0x0002, Mode.M_MODE),
    (_COLOUR, Mode.COLOUR),
    (0x0001, Mode.TWO_D),
)


def stated_mode(dataset: Dataset, mode: Mode) -> Mode:
    """Return the mode with what ImageType adds to it.

    Regions go first, as this value is often absent or wrong. It decides only whether a 2-D
    picture carries colour, which some makers say nowhere else, and for an image without any
    region.
    """
    flags = _flags(dataset)
    if mode is Mode.TWO_D and flags & _COLOUR:
        return Mode.COLOUR
    if mode is Mode.UNKNOWN:
        return next((one for flag, one in _FLAGS if flags & flag), Mode.UNKNOWN)
    return mode


def _flags(dataset: Dataset) -> int:
    values: Any = dataset.get("ImageType") or ()
    try:
        return int(str(values[3]), 16) if not isinstance(values, str) else 0
    except (IndexError, ValueError):
        return 0
