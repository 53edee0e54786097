"""One file to one image record and the source of its frames."""

import tempfile
import warnings
from dataclasses import dataclass, replace
from pathlib import Path

from tableside.errors import UnreadableFile
from tableside.intake.animal import Animal, acquired, animal
from tableside.intake.codecs import VIDEO
from tableside.intake.gather import Found
from tableside.intake.header import Header, read_header
from tableside.intake.image_type import stated_mode
from tableside.intake.kinds import FileKind
from tableside.intake.layout import frame_layout
from tableside.intake.object_kind import identity, require_ultrasound
from tableside.intake.passed_over import PassedOver
from tableside.intake.pixel_format import pixel_format
from tableside.intake.regions import calibration
from tableside.intake.sources import DicomSource, Source, still_source, video_source
from tableside.intake.timing import frame_times_s, r_wave_times_s, stated_heart_rate
from tableside.model import Image, Mode, Region, RegionKind

_MODES = (  # the most telling region first
    (RegionKind.SPECTRAL, Mode.SPECTRAL),
    (RegionKind.M_MODE, Mode.M_MODE),
    (RegionKind.COLOUR_M_MODE, Mode.COLOUR_M_MODE),
    (RegionKind.COLOUR, Mode.COLOUR),
    (RegionKind.TWO_D, Mode.TWO_D),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedFile:
    """An image, where its frames come from, and who it shows (None for stills and films)."""

    image: Image
    source: Source
    animal: Animal | None = None


def open_file(found: Found, scratch: Path) -> OpenedFile:
    """Open one file and prove that its first frame can be decoded.

    Raises
    ------
    UnreadableFile
        With a reason that a person can act on.
    PassedOver
        For an index of a medium and the like.
    """
    if found.kind is FileKind.DICOM:
        with warnings.catch_warnings():  # the library remarks on values that we check ourselves
            warnings.simplefilter("ignore")
            opened = _open_dicom_safely(found, scratch)
    elif found.kind is FileKind.STILL:
        opened = _open_still(found)
    elif found.kind is FileKind.VIDEO:
        opened = _open_video(found)
    else:
        raise UnreadableFile(_REASONS[found.kind])
    next(iter(opened.source.frames((0,))))
    return opened


_REASONS = {
    FileKind.ZIP: "a zip inside the study: unpack it, or give it by itself",
    FileKind.PDF: "a document, not an image: kept out",
    FileKind.PICTURE: "a picture in a format that is not read: save it as PNG or JPEG",
    FileKind.EMPTY: "the file is empty: copy it from the machine again",
    FileKind.OTHER: "not an image: kept out",
}


def image_mode(regions: tuple[Region, ...]) -> Mode:
    """Return the mode of an image by its most telling region."""
    kinds = {region.kind for region in regions}
    return next((mode for kind, mode in _MODES if kind in kinds), Mode.UNKNOWN)


def _open_dicom_safely(found: Found, scratch: Path) -> OpenedFile:
    """Open a DICOM object whose values may be anything, of any type and number."""
    try:
        return _open_dicom(found, scratch)
    except (UnreadableFile, PassedOver):
        raise
    except Exception as error:
        raise UnreadableFile(
            "its header holds values that cannot be right: copy it from the machine again"
        ) from error


def _open_dicom(found: Found, scratch: Path) -> OpenedFile:
    header = read_header(found.path, scratch)
    require_ultrasound(header)
    source = _dicom_source(found, header, scratch)
    return OpenedFile(
        image=_dicom_image(found, header, source), source=source, animal=animal(header.dataset)
    )


def _dicom_source(found: Found, header: Header, scratch: Path) -> Source:
    form = pixel_format(header)
    if header.syntax.removesuffix(".1") not in VIDEO:  # the fragmentable variants end in .1
        layout = frame_layout(header, form)
        return DicomSource(path=found.path, layout=layout, form=form)
    layout = frame_layout(header, replace(form, frames=1))  # one stream holds the whole film
    with tempfile.NamedTemporaryFile(dir=scratch, suffix=".film", delete=False) as film:
        film.write(layout.read(0))
    return video_source(found.path, Path(film.name))[0]


def _dicom_image(found: Found, header: Header, source: Source) -> Image:
    dataset = header.dataset
    rows, columns, frames = source.size
    scales = calibration(dataset, rows, columns)
    vendor = " ".join(str(dataset.get("Manufacturer") or "").split()) or None
    who, note = identity(dataset)
    return Image(
        file=found.name,
        mode=stated_mode(dataset, image_mode(scales.regions)),
        rows=rows,
        columns=columns,
        frames=frames,
        frame_times_s=frame_times_s(dataset, frames),
        r_wave_times_s=r_wave_times_s(dataset),
        stated_heart_rate=stated_heart_rate(dataset),
        vendor=vendor,
        acquired=acquired(dataset),
        regions=scales.regions,
        identity=who,
        doubt=scales.doubt,
        notes=scales.notes + ((note,) if note else ()),
    )


def _open_still(found: Found) -> OpenedFile:
    source = still_source(found.path)
    rows, columns, _ = source.size
    return OpenedFile(
        image=Image(file=found.name, mode=Mode.UNKNOWN, rows=rows, columns=columns),
        source=source,
    )


def _open_video(found: Found) -> OpenedFile:
    source, rate = video_source(found.path)
    rows, columns, frames = source.size
    times = tuple(index / rate for index in range(frames)) if rate and frames > 1 else ()
    return OpenedFile(
        image=Image(
            file=found.name,
            mode=Mode.UNKNOWN,
            rows=rows,
            columns=columns,
            frames=frames,
            frame_times_s=times,
            notes=("the times of its frames are those of the film, not of the machine",),
        ),
        source=source,
    )
