"""The header of a DICOM object, read without its pixels."""

import os
import struct
import tempfile
import warnings
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from pydicom import dcmread
from pydicom.dataset import Dataset, FileDataset
from pydicom.filereader import read_dataset
from pydicom.tag import BaseTag, Tag

from tableside.errors import UnreadableFile
from tableside.intake.limits import CHUNK_BYTES, MAX_INFLATED_BYTES, MAX_RATIO, RATIO_FREE_BYTES

DEFLATED = "1.2.840.10008.1.2.1.99"
IMPLICIT = "1.2.840.10008.1.2"
BIG_ENDIAN = "1.2.840.10008.1.2.2"
UNDEFINED = 0xFFFFFFFF
CUT_OFF = "cut off in the middle: copy it from the machine again"

_KEYWORDS = (
    "SOPClassUID",
    "SOPInstanceUID",
    "StudyInstanceUID",
    "SeriesInstanceUID",
    "Modality",
    "Manufacturer",
    "ImageType",
    "StudyDate",
    "ContentDate",
    "ContentTime",
    "AcquisitionDate",
    "AcquisitionTime",
    "AcquisitionDateTime",
    "PatientName",
    "PatientID",
    "PatientBirthDate",
    "PatientSex",
    "PatientAge",
    "PatientWeight",
    "PatientSpeciesDescription",
    "PatientSpeciesCodeSequence",
    "PatientBreedDescription",
    "PatientBreedCodeSequence",
    "PatientSexNeutered",
    "ResponsiblePerson",
    "HeartRate",
    "CineRate",
    "FrameTime",
    "FrameTimeVector",
    "FrameIncrementPointer",
    "FrameDelay",
    "RWaveTimeVector",
    "NumberOfFrames",
    "Rows",
    "Columns",
    "SamplesPerPixel",
    "PhotometricInterpretation",
    "PlanarConfiguration",
    "BitsAllocated",
    "BitsStored",
    "PixelRepresentation",
    "PixelSpacing",
    "WindowCenter",
    "WindowWidth",
    "RedPaletteColorLookupTableDescriptor",
    "RedPaletteColorLookupTableData",
    "GreenPaletteColorLookupTableDescriptor",
    "GreenPaletteColorLookupTableData",
    "BluePaletteColorLookupTableDescriptor",
    "BluePaletteColorLookupTableData",
    "SegmentedRedPaletteColorLookupTableData",
    "SegmentedGreenPaletteColorLookupTableData",
    "SegmentedBluePaletteColorLookupTableData",
    "SequenceOfUltrasoundRegions",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """A header, and where its pixels lie in which file.

    ``pixel_path`` differs from the file that was given when that one is deflated: it is then
    the inflated copy. ``pixel_length`` is None when the pixels are in fragments, and 0 when
    there are none.
    """

    dataset: Dataset
    kind: str  # SOP class
    syntax: str
    pixel_path: Path
    pixel_offset: int
    pixel_length: int | None
    is_big_endian: bool
    has_words: bool  # stored as 16-bit words, which matters for 8-bit big endian


def read_header(path: Path, scratch: Path) -> Header:
    """Read the header of a DICOM object, at most a few kilobytes of it.

    Raises
    ------
    UnreadableFile
        When the file is not DICOM, is cut off in its header, or inflates beyond the limit.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _read(path, scratch)
    except UnreadableFile:
        raise
    except (RecursionError, MemoryError) as error:
        raise UnreadableFile(
            "its header is nested or sized like no image's: not read"
        ) from error
    except Exception as error:  # a broken header fails in many ways inside the library
        raise UnreadableFile(f"its header is broken or {CUT_OFF}") from error


def _read(path: Path, scratch: Path) -> Header:
    deflated_from = _deflated_from(path)
    if deflated_from is not None:
        body = _inflate(path, deflated_from, scratch)
        with body.open("rb") as stream:
            dataset = read_dataset(
                stream, False, True, stop_when=_is_pixels, specific_tags=_tags()
            )
            return _header(dataset, "1.2.840.10008.1.2.1", body, stream)
    with path.open("rb") as stream:
        whole = dcmread(
            stream, stop_before_pixels=True, force=True, specific_tags=list(_KEYWORDS)
        )
        return _header(whole, _syntax_of(whole), path, stream)


def _tags() -> list[BaseTag | int]:
    return [Tag(keyword) for keyword in (*_KEYWORDS, "SpecificCharacterSet")]


def _is_pixels(tag: BaseTag, _vr: str | None, _length: int) -> bool:
    return tag in (0x7FE00008, 0x7FE00009, 0x7FE00010)


def _syntax_of(whole: FileDataset) -> str:
    """Return the transfer syntax, or the one that the library found by looking."""
    stated = whole.file_meta.get("TransferSyntaxUID")
    if stated is not None:
        return str(stated)
    is_implicit, is_little = whole.original_encoding
    if not is_little:
        return BIG_ENDIAN
    return IMPLICIT if is_implicit else "1.2.840.10008.1.2.1"


def _deflated_from(path: Path) -> int | None:
    """Return where the deflated body begins, or None when the object is not deflated.

    The preamble may be missing: the library reads such a file too, and would inflate its body
    without a limit.
    """
    with path.open("rb") as stream:
        if stream.read(132)[128:] != b"DICM":
            stream.seek(0)
        meta = read_dataset(stream, False, True, stop_when=_is_past_meta)
        is_deflated = meta.get("TransferSyntaxUID") == DEFLATED
        return stream.tell() if is_deflated else None


def _is_past_meta(tag: BaseTag, _vr: str | None, _length: int) -> bool:
    return tag.group != 2


def _inflate(path: Path, start: int, scratch: Path) -> Path:
    """Write the inflated body to a scratch file, a chunk at a time, with a limit."""
    packed = path.stat().st_size - start
    most = min(MAX_INFLATED_BYTES, max(RATIO_FREE_BYTES, packed * MAX_RATIO))
    handle, name = tempfile.mkstemp(suffix=".inflated", dir=scratch)
    engine = zlib.decompressobj(-zlib.MAX_WBITS)  # raw deflate: PS3.5 A.5
    size = 0
    with path.open("rb") as source, os.fdopen(handle, "wb") as sink:
        source.seek(start)
        while not engine.eof:
            packed_chunk = engine.unconsumed_tail or source.read(CHUNK_BYTES)
            if not packed_chunk:
                raise UnreadableFile(CUT_OFF)
            chunk = engine.decompress(packed_chunk, CHUNK_BYTES)
            size += len(chunk)
            if size > most:
                raise UnreadableFile(
                    f"inflates to more than {most / 2**20:.0f} MB, far more than an image "
                    "does: not read. Export it uncompressed or as JPEG."
                )
            sink.write(chunk)
    return Path(name)


def _header(dataset: Dataset, syntax: str, path: Path, stream: BinaryIO) -> Header:
    is_big = syntax == BIG_ENDIAN
    _forget_broken(dataset)
    length, vr = _pixel_element(stream, ">" if is_big else "<")
    return Header(
        dataset=dataset,
        kind=str(dataset.get("SOPClassUID") or _media_kind(dataset)),
        syntax=syntax,
        pixel_path=path,
        pixel_offset=stream.tell(),
        pixel_length=None if length == UNDEFINED else length,
        is_big_endian=is_big,
        has_words=vr == b"OW",
    )


def _forget_broken(dataset: Dataset) -> None:
    """Take out what cannot be read, so that a broken weight does not cost the picture."""
    for tag in list(dataset.keys()):
        try:
            element = dataset[tag]
        except Exception:  # each kind of value breaks in its own way inside the library
            del dataset[tag]
            continue
        if element.VR == "SQ":
            for item in element.value:
                _forget_broken(item)


def _media_kind(dataset: Dataset) -> str:
    """Return the SOP class of the file itself: the index of a medium has no other."""
    meta = getattr(dataset, "file_meta", None)
    return str(meta.get("MediaStorageSOPClassUID") or "") if meta is not None else ""


def _pixel_element(stream: BinaryIO, order: str) -> tuple[int, bytes]:
    """Read the head of the pixel element, leave the stream at its value (PS3.5 7.1).

    Whether the VR is written is seen, not believed: compressed objects with implicit VR exist.
    """
    head = stream.read(8)
    if len(head) < 8 or struct.unpack(order + "HH", head[:4]) != (0x7FE0, 0x0010):
        return 0, b""
    vr = head[4:6]
    if vr not in (b"OB", b"OW", b"UN"):
        return int(struct.unpack(order + "I", head[4:])[0]), b""
    length = stream.read(4)
    return (int(struct.unpack(order + "I", length)[0]) if len(length) == 4 else 0), vr
