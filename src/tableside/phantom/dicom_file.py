"""Write a screen as a DICOM ultrasound object that a validator accepts.

Source: PS3.3 A.6 and A.7 (Ultrasound Image and Multi-frame IODs), C.8.5.5 (region
calibration), C.7.1.1 and C.7.2.2 (animals); PS3.5 A.4 (encapsulated JPEG and RLE).
"""

import hashlib
from dataclasses import dataclass
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path

from PIL import Image
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.encaps import encapsulate
from pydicom.sequence import Sequence
from pydicom.tag import Tag
from pydicom.uid import (
    ExplicitVRLittleEndian,
    JPEGBaseline8Bit,
    RLELossless,
    UltrasoundImageStorage,
    UltrasoundMultiFrameImageStorage,
)

from tableside.model import Patient, Region, RegionKind, Sex, Species
from tableside.phantom.screen import Screen
from tableside.phantom.types import Pixels

CENTIMETRES, SECONDS, CENTIMETRES_A_SECOND = 3, 4, 7
# spatial format, data type and units of x and y by kind of region (PS3.3 C.8.5.5.1)
REGION_CODES = {
    RegionKind.TWO_D: (1, 1, CENTIMETRES, CENTIMETRES),
    RegionKind.M_MODE: (2, 1, SECONDS, CENTIMETRES),
    RegionKind.SPECTRAL: (3, 3, SECONDS, CENTIMETRES_A_SECOND),
}
CONTINUOUS = 4  # data type of a continuous-wave spectrum
MODE_BITS = {RegionKind.TWO_D: 1, RegionKind.M_MODE: 2, RegionKind.SPECTRAL: 8}
SPECIES_CODES = {
    Species.DOG: ("448771007", "Canis lupus familiaris"),
    Species.CAT: ("448169003", "Felis catus"),
}
BREED_CODES = {
    "Cavalier King Charles Spaniel": ("66495005", "Cavalier King Charles spaniel"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Examination:
    """What all objects of one visit share."""

    patient: Patient
    start: datetime
    clinic: str
    seed: int
    accession: str = "1"


@dataclass(frozen=True, slots=True, kw_only=True)
class ObjectSpec:
    """How one screen is stored. ``coding`` is ``jpeg``, ``rle`` or ``raw``."""

    number: int
    coding: str = "jpeg"
    quality: int = 92
    heart_rate: int | None = None
    frame_time_ms: float | None = None
    r_times_ms: tuple[float, ...] = ()


def write_object(path: Path, screen: Screen, exam: Examination, spec: ObjectSpec) -> None:
    """Write one file. The same arguments give the same bytes."""
    many = spec.frame_time_ms is not None
    ds = Dataset()
    meta = FileMetaDataset()
    ds.SOPClassUID = UltrasoundMultiFrameImageStorage if many else UltrasoundImageStorage
    ds.SOPInstanceUID = _uid(exam, f"object {spec.number}")
    meta.MediaStorageSOPClassUID = ds.SOPClassUID
    meta.MediaStorageSOPInstanceUID = ds.SOPInstanceUID
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    ds.file_meta = meta
    _add_patient(ds, exam)
    _add_study(ds, exam, spec)
    _add_image(ds, screen, spec)
    ds.SequenceOfUltrasoundRegions = Sequence([_region(one) for one in screen.regions])
    _add_pixels(ds, screen.frames, spec)
    ds.save_as(path, enforce_file_format=True)


def _uid(exam: Examination, what: str) -> str:
    """Return a UID from the seed: 2.25 and a number of 128 bits (PS3.5 B.2)."""
    text = f"tableside phantom/{exam.seed}/{exam.patient.id}/{exam.start.isoformat()}/{what}"
    return f"2.25.{int.from_bytes(hashlib.sha256(text.encode()).digest()[:16], 'big')}"


def _code(value: str, meaning: str) -> Dataset:
    item = Dataset()
    item.CodeValue, item.CodingSchemeDesignator, item.CodeMeaning = value, "SCT", meaning
    return item


def _add_patient(ds: Dataset, exam: Examination) -> None:
    patient = exam.patient
    family = (patient.owner or "").split(" ")[-1]
    ds.PatientName = f"{family}^{patient.name or ''}"
    ds.PatientID = patient.id or ""
    ds.PatientBirthDate = f"{patient.birth_date:%Y%m%d}" if patient.birth_date else ""
    ds.PatientSex = patient.sex.value[0] if patient.sex else ""
    ds.PatientSexNeutered = ""
    if patient.sex is not None:
        neutered = patient.sex in (Sex.FEMALE_NEUTERED, Sex.MALE_NEUTERED)
        ds.PatientSexNeutered = "ALTERED" if neutered else "UNALTERED"
    species = patient.species or Species.DOG
    ds.PatientSpeciesCodeSequence = Sequence([_code(*SPECIES_CODES[species])])
    breed = patient.breed or ""
    known = breed in BREED_CODES
    ds.PatientBreedDescription = breed
    ds.PatientBreedCodeSequence = Sequence([_code(*BREED_CODES[breed])] if known else [])
    ds.BreedRegistrationSequence = Sequence([])
    ds.ResponsiblePerson = ""
    if patient.owner:
        *given, family = patient.owner.split(" ")
        ds.ResponsiblePerson = f"{family}^{' '.join(given)}"
        ds.ResponsiblePersonRole = "OWNER"
    ds.ResponsibleOrganization = exam.clinic
    if patient.weight_kg is not None:
        ds.PatientWeight = f"{patient.weight_kg:g}"
    if patient.birth_date is not None:
        years = (exam.start.date() - patient.birth_date).days // 365.25
        ds.PatientAge = f"{int(years):03d}Y"


def _add_study(ds: Dataset, exam: Examination, spec: ObjectSpec) -> None:
    when = exam.start + timedelta(seconds=47 * spec.number)
    ds.StudyInstanceUID = _uid(exam, "study")
    ds.SeriesInstanceUID = _uid(exam, "series")
    ds.StudyDate = f"{exam.start:%Y%m%d}"
    ds.StudyTime = f"{exam.start:%H%M%S}"
    ds.ContentDate = ds.AcquisitionDate = f"{when:%Y%m%d}"
    ds.ContentTime = ds.AcquisitionTime = f"{when:%H%M%S}"
    ds.AccessionNumber = exam.accession
    ds.StudyID = exam.accession
    ds.ReferringPhysicianName = ""
    ds.StudyDescription = "Echocardiography, phantom"
    ds.Modality = "US"
    ds.SeriesNumber = 1
    ds.InstanceNumber = spec.number
    ds.BodyPartExamined = "CHEST"
    ds.AnatomicalOrientationType = "QUADRUPED"
    ds.PatientOrientation = ""
    ds.Manufacturer = "tableside phantom"
    ds.ManufacturerModelName = "calculated, no animal"
    ds.InstitutionName = exam.clinic
    ds.SoftwareVersions = "1"


def _add_image(ds: Dataset, screen: Screen, spec: ObjectSpec) -> None:
    frames, rows, columns = screen.frames.shape[:3]
    bits = sum({MODE_BITS[region.kind] for region in screen.regions})
    ds.ImageType = ["ORIGINAL", "PRIMARY", "TTE", f"{bits:04X}"]
    ds.SamplesPerPixel = 3
    ds.PhotometricInterpretation = "RGB"
    ds.PlanarConfiguration = 0
    ds.Rows, ds.Columns = rows, columns
    ds.BitsAllocated = ds.BitsStored = 8
    ds.HighBit = 7
    ds.PixelRepresentation = 0
    ds.LossyImageCompression = "00"
    ds.BurnedInAnnotation = "YES"
    ds.UltrasoundColorDataPresent = 0
    if spec.heart_rate is not None:
        ds.HeartRate = spec.heart_rate
    if spec.frame_time_ms is not None:
        ds.NumberOfFrames = frames
        ds.FrameTime = f"{spec.frame_time_ms:.4f}"
        ds.FrameIncrementPointer = Tag("FrameTime")
        if spec.r_times_ms:
            ds.RWaveTimeVector = list(spec.r_times_ms)


def _region(region: Region) -> Dataset:
    kind, data, unit_x, unit_y = REGION_CODES[region.kind]
    left, top, right, bottom = region.box
    item = Dataset()
    item.RegionSpatialFormat = kind
    item.RegionDataType = CONTINUOUS if region.wave == "continuous" else data
    item.RegionFlags = 0
    item.RegionLocationMinX0, item.RegionLocationMinY0 = left, top
    item.RegionLocationMaxX1, item.RegionLocationMaxY1 = right, bottom
    item.PhysicalUnitsXDirection, item.PhysicalUnitsYDirection = unit_x, unit_y
    assert region.x is not None and region.y is not None
    item.ReferencePixelX0 = round(region.x.origin_px) - left
    item.ReferencePixelY0 = round(region.y.origin_px) - top
    item.ReferencePixelPhysicalValueX = region.x.origin
    item.ReferencePixelPhysicalValueY = region.y.origin
    item.PhysicalDeltaX = region.x.per_pixel
    factor = 100.0 if region.kind is RegionKind.SPECTRAL else 1.0  # stored as cm/s
    item.PhysicalDeltaY = region.y.per_pixel * factor
    return item


def _add_pixels(ds: Dataset, frames: Pixels, spec: ObjectSpec) -> None:
    if spec.coding == "jpeg":
        coded = [_jpeg(frame, spec.quality) for frame in frames]
        ds.PixelData = encapsulate(coded, has_bot=True)
        ds["PixelData"].is_undefined_length = True
        ds.file_meta.TransferSyntaxUID = JPEGBaseline8Bit
        ds.PhotometricInterpretation = "YBR_FULL_422"
        ds.LossyImageCompression = "01"
        ds.LossyImageCompressionRatio = f"{frames.nbytes / sum(map(len, coded)):.2f}"
        ds.LossyImageCompressionMethod = "ISO_10918_1"
        return
    ds.PixelData = frames.tobytes()
    ds["PixelData"].VR = "OB"
    if spec.coding == "rle":
        ds.compress(RLELossless, generate_instance_uid=False)


def _jpeg(frame: Pixels, quality: int) -> bytes:
    store = BytesIO()
    Image.fromarray(frame).save(store, "JPEG", quality=quality, subsampling="4:2:2")
    coded = store.getvalue()
    return coded + b"\0" * (len(coded) % 2)
