"""Small DICOM objects for tests, written by pydicom: ours only reads them."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.encaps import encapsulate
from pydicom.uid import (
    ExplicitVRLittleEndian,
    UltrasoundImageStorage,
    UltrasoundMultiFrameImageStorage,
    generate_uid,
)

STAND_IN = "1.2.840.10008.1.2.4.201"  # as long as the identifiers of JPEG XL


def region(**changes: Any) -> Dataset:
    """Return a 2-D region, PS3.3 Table C.8-17, with some attributes changed."""
    item = Dataset()
    values = {
        "RegionSpatialFormat": 1,
        "RegionDataType": 1,
        "RegionFlags": 2,
        "RegionLocationMinX0": 0,
        "RegionLocationMinY0": 0,
        "RegionLocationMaxX1": 63,
        "RegionLocationMaxY1": 47,
        "PhysicalUnitsXDirection": 3,
        "PhysicalUnitsYDirection": 3,
        "PhysicalDeltaX": 0.1,
        "PhysicalDeltaY": 0.1,
    }
    for keyword, value in (values | changes).items():
        setattr(item, keyword, value)
    return item


def spectrum(**changes: Any) -> Dataset:
    """Return a spectral region of 64 x 48 pixels with its zero line in row 30."""
    values = {
        "RegionSpatialFormat": 3,
        "RegionDataType": 3,
        "PhysicalUnitsXDirection": 4,
        "PhysicalUnitsYDirection": 7,
        "PhysicalDeltaX": 0.01,
        "PhysicalDeltaY": -5.0,
        "ReferencePixelX0": 0,
        "ReferencePixelY0": 30,
        "ReferencePixelPhysicalValueX": 0.0,
        "ReferencePixelPhysicalValueY": 0.0,
    }
    return region(**(values | changes))


def image(frames: int = 1, **changes: Any) -> Dataset:
    """Return an ultrasound image of 64 x 48 grey pixels, each frame a shade lighter."""
    whole = Dataset()
    shades = np.arange(frames, dtype=np.uint8)[:, None, None] * np.ones((48, 64), np.uint8)
    values: dict[str, Any] = {
        "SOPClassUID": (
            UltrasoundMultiFrameImageStorage if frames > 1 else UltrasoundImageStorage
        ),
        "SOPInstanceUID": generate_uid(),
        "StudyInstanceUID": "1.2.3.4",
        "SeriesInstanceUID": "1.2.3.4.5",
        "Modality": "US",
        "PatientID": "K-1",
        "PatientName": "Example^Bramble",
        "StudyDate": "20260314",
        "Rows": 48,
        "Columns": 64,
        "SamplesPerPixel": 1,
        "PhotometricInterpretation": "MONOCHROME2",
        "BitsAllocated": 8,
        "BitsStored": 8,
        "HighBit": 7,
        "PixelRepresentation": 0,
        "SequenceOfUltrasoundRegions": [region()],
        "PixelData": shades.tobytes(),
    }
    if frames > 1:
        values["NumberOfFrames"] = frames
    for keyword, value in (values | changes).items():
        if value is not None:
            setattr(whole, keyword, value)
    return whole


def save(whole: Dataset, path: Path, syntax: str = ExplicitVRLittleEndian) -> Path:
    """Write an object as a DICOM file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    whole.file_meta = FileMetaDataset()
    is_new = syntax.startswith("1.2.840.10008.1.2.4.11")  # JPEG XL is unknown to pydicom
    whole.file_meta.TransferSyntaxUID = STAND_IN if is_new else syntax
    whole.file_meta.MediaStorageSOPClassUID = whole.SOPClassUID
    whole.file_meta.MediaStorageSOPInstanceUID = "1.2.3"
    whole["PixelData"].VR = "OB"
    whole.save_as(path, enforce_file_format=True)
    if is_new:
        path.write_bytes(path.read_bytes().replace(STAND_IN.encode(), syntax.encode()))
    return path


def save_frames(
    streams: Sequence[bytes],
    path: Path,
    syntax: str,
    changes: Mapping[str, Any],
    fragments: int = 1,
) -> Path:
    """Write frames that are compressed already, each in so many fragments."""
    pixels = encapsulate(list(streams), fragments_per_frame=fragments, has_bot=fragments > 1)
    whole = image(len(streams), **(dict(changes) | {"PixelData": pixels}))
    whole["PixelData"].is_undefined_length = True
    return save(whole, path, syntax)
