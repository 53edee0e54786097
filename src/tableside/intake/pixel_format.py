"""How the pixels of a DICOM object are stored, checked before anything is decoded."""

from dataclasses import dataclass
from typing import Any

from pydicom.dataset import Dataset
from pydicom.multival import MultiValue

from tableside.errors import UnreadableFile
from tableside.intake.header import Header
from tableside.intake.limits import MAX_FRAME_BYTES, MAX_FRAMES
from tableside.intake.palette import Palette, read_palette

PHOTOMETRIC = (
    "MONOCHROME1",
    "MONOCHROME2",
    "PALETTE COLOR",
    "RGB",
    "YBR_FULL",
    "YBR_FULL_422",
    "YBR_PARTIAL_422",
    "YBR_PARTIAL_420",
    "YBR_RCT",
    "YBR_ICT",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PixelFormat:
    """The Image Pixel module, PS3.3 C.7.6.3, as far as decoding needs it."""

    syntax: str
    rows: int
    columns: int
    frames: int
    samples: int
    bits_allocated: int
    bits_stored: int
    photometric: str
    is_planar: bool
    is_big_endian: bool
    has_words: bool = False
    window: tuple[float, float] | None = None  # centre and width
    palette: Palette | None = None

    @property
    def stored_frame_bytes(self) -> int:
        """Bytes of one uncompressed frame as it lies in the file."""
        pixels = self.rows * self.columns
        if self.photometric.endswith("_422"):
            return pixels * 2  # two luma and one pair of chroma for every two pixels
        return pixels * self.samples * self.bits_allocated // 8


def pixel_format(header: Header) -> PixelFormat:
    """Read how pixels are stored.

    Raises
    ------
    UnreadableFile
        When there are none, or when they would not fit the limits.
    """
    get = header.dataset.get
    rows, columns = _whole(get("Rows")), _whole(get("Columns"))
    if header.pixel_length == 0 or rows < 1 or columns < 1:
        raise UnreadableFile("holds no picture: export the image itself from the machine")
    form = PixelFormat(
        syntax=header.syntax,
        rows=rows,
        columns=columns,
        frames=max(1, _whole(get("NumberOfFrames"))),
        samples=_whole(get("SamplesPerPixel")) or 1,
        bits_allocated=_whole(get("BitsAllocated")) or 8,
        bits_stored=_whole(get("BitsStored")) or _whole(get("BitsAllocated")) or 8,
        photometric=str(get("PhotometricInterpretation") or "MONOCHROME2").strip(),
        is_planar=_whole(get("PlanarConfiguration")) == 1,
        is_big_endian=header.is_big_endian,
        has_words=header.has_words,
        window=_window(header.dataset),
        palette=read_palette(header.dataset, is_big_endian=header.is_big_endian),
    )
    _require_sane(form)
    return form


def _require_sane(form: PixelFormat) -> None:
    size = f"{form.columns} x {form.rows}"
    if form.rows * form.columns * form.samples * form.bits_allocated // 8 > MAX_FRAME_BYTES:
        raise UnreadableFile(
            f"claims a frame of {size} pixels, larger than any ultrasound image"
        )
    if form.frames > MAX_FRAMES:
        raise UnreadableFile(f"claims {form.frames} frames; at most {MAX_FRAMES} are read")
    if form.photometric not in PHOTOMETRIC:
        raise UnreadableFile(f"stores colour as {form.photometric!r}, which is not known")
    is_grey = form.photometric.startswith(("MONOCHROME", "PALETTE"))
    if form.samples != (1 if is_grey else 3) or form.bits_allocated not in (8, 16):
        raise UnreadableFile(
            f"stores {form.samples} samples of {form.bits_allocated} bits as "
            f"{form.photometric}: export it as an ordinary ultrasound image"
        )
    if not 1 <= form.bits_stored <= form.bits_allocated:
        raise UnreadableFile("its header contradicts itself about bits: export it again")
    if form.photometric == "PALETTE COLOR" and form.palette is None:
        raise UnreadableFile("its colour table is missing: export it again")


def _whole(value: Any) -> int:
    """Return a number of the header as an int; 0 where there is none."""
    try:
        return int(value)
    except (TypeError, ValueError):
        return 0


def _window(dataset: Dataset) -> tuple[float, float] | None:
    centre, width = dataset.get("WindowCenter"), dataset.get("WindowWidth")
    try:
        pair = float(_first(centre)), float(_first(width))
    except (TypeError, ValueError, IndexError):
        return None
    return pair if pair[1] >= 1 else None


def _first(value: Any) -> Any:
    return value[0] if isinstance(value, MultiValue) else value
