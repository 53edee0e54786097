"""A study: the images of one visit, and what could not be used."""

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from tableside.model.patient import Patient, Visit
from tableside.model.region import Point, Region, RegionKind


class Mode(StrEnum):
    """What kind of picture an image is, by its most telling region."""

    TWO_D = "2-d"
    COLOUR = "colour"
    M_MODE = "m-mode"
    COLOUR_M_MODE = "colour m-mode"
    SPECTRAL = "spectral doppler"
    UNKNOWN = "unknown"


MMODE_LEVELS = (
    "left ventricle",
    "mitral valve",
    "aorta and left atrium",
    "tricuspid annulus",
    "mitral annulus",
)

FLOWS = (
    "mitral inflow",
    "mitral regurgitation",
    "tricuspid inflow",
    "tricuspid regurgitation",
    "aortic outflow",
    "aortic regurgitation",
    "pulmonic outflow",
    "pulmonic regurgitation",
    "mitral annulus septal",
    "mitral annulus lateral",
)

VIEWS = (
    "right parasternal long axis, four chambers",
    "right parasternal long axis, left ventricular outflow",
    "right parasternal short axis, papillary muscles",
    "right parasternal short axis, chordae",
    "right parasternal short axis, mitral valve",
    "right parasternal short axis, heart base",
    "right parasternal short axis, pulmonary artery",
    "left apical, four chambers",
    "left apical, five chambers",
    "left apical, two chambers",
    "left cranial long axis, aorta",
    "left cranial long axis, right atrium and auricle",
    "left cranial long axis, pulmonary artery",
    "subcostal, left ventricular outflow",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DicomIdentity:
    """The identifiers that tie an image to its archive."""

    sop_class: str
    sop_instance: str
    study: str
    series: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Image:
    """One stored object: a still or a cine, with its scales and labels.

    ``frame_times_s`` holds the time of every frame from the first; empty when the file does
    not say. ``view``, ``mmode`` and ``flow`` are the person's labels. ``doubt`` is set when
    the image must not be measured automatically, and says why. ``notes`` are remarks that a
    person should see.
    """

    file: str
    mode: Mode
    rows: int
    columns: int
    frames: int = 1
    frame_times_s: tuple[float, ...] = ()
    r_wave_times_s: tuple[float, ...] = ()
    stated_heart_rate: float | None = None
    view: str | None = None
    mmode: str | None = None
    flow: str | None = None
    vendor: str | None = None
    acquired: datetime | None = None
    regions: tuple[Region, ...] = ()
    identity: DicomIdentity | None = None
    doubt: str | None = None
    notes: tuple[str, ...] = ()

    def region(self, *kinds: RegionKind) -> Region | None:
        """Return the largest region of the first kind that has one, or None."""
        for kind in kinds:
            found = [region for region in self.regions if region.kind is kind]
            if found:
                return max(found, key=lambda region: region.area_px)
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Caliper:
    """Points that a person put on a frame, and the quantity they meant."""

    quantity: str
    file: str
    frame: int
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejected:
    """A file, or a line of the worksheet, that was not used, and why."""

    file: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """Everything that was read of one visit, before anything is measured."""

    patient: Patient = field(default_factory=Patient)
    visit: Visit = field(default_factory=Visit)
    images: tuple[Image, ...] = ()
    calipers: tuple[Caliper, ...] = ()
    rejected: tuple[Rejected, ...] = ()
    notes: tuple[str, ...] = ()

    def image(self, file: str) -> Image | None:
        """Return the image of that file name, or None."""
        return next((image for image in self.images if image.file == file), None)
