"""The way in: a folder, a zip or a file becomes a study whose frames are decoded on demand."""

import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from tableside.errors import NotFound, NothingReadable, OutOfRange, UnreadableFile
from tableside.intake.gather import Gathered, gather, gather_named
from tableside.intake.kinds import FileKind
from tableside.intake.labels import label
from tableside.intake.opened_file import OpenedFile, open_file
from tableside.intake.passed_over import PassedOver
from tableside.intake.patients import choose_patient
from tableside.intake.pixels import Pixels
from tableside.intake.sources import DicomSource, Source, VideoSource
from tableside.model import Rejected, Study

if TYPE_CHECKING:
    from tableside.intake.worksheet_keys import Worksheet


class OpenedStudy(AbstractContextManager["OpenedStudy"]):
    """A study and the way to its frames. Close it, or use it in ``with``.

    Attributes
    ----------
    study : Study
        What the headers and the worksheet say.
    """

    study: Study

    def __init__(
        self,
        study: Study,
        sources: dict[str, Source],
        scratch: "tempfile.TemporaryDirectory[str] | None" = None,
    ) -> None:
        self.study = study
        self._sources = sources
        self._scratch = scratch

    def frames(self, file: str, wanted: Sequence[int] | None = None) -> Iterator[Pixels]:
        """Yield decoded frames of an image, one in memory at a time.

        Parameters
        ----------
        file : str
            The image's ``file``.
        wanted : sequence of int, optional
            Frame indices from 0, in rising order; every frame when not given.

        Yields
        ------
        ndarray of uint8
            (rows, columns, 3) RGB or (rows, columns) grey.

        Raises
        ------
        NotFound, OutOfRange
            For a file or a frame that the study does not have.
        UnreadableFile
            When a frame turns out to be broken.
        """
        source = self._source(file)
        count = source.size[2]
        indices = range(count) if wanted is None else sorted(wanted)
        if len(indices) and not 0 <= indices[0] <= indices[-1] < count:
            raise OutOfRange(f"frames {list(indices)} of {file}; it has 0 to {count - 1}")
        return source.frames(indices)

    def frame(self, file: str, index: int = 0) -> Pixels:
        """Return one decoded frame; see `frames`."""
        return next(iter(self.frames(file, (index,))))

    def stored_jpeg(self, file: str, index: int) -> bytes | None:
        """Return a frame as it is stored, if any browser shows it right; else None.

        Raises
        ------
        NotFound, OutOfRange
            For a file or a frame that the study does not have.
        """
        source = self._source(file)
        if not 0 <= index < source.size[2]:
            raise OutOfRange(f"frame {index} of {file}; it has 0 to {source.size[2] - 1}")
        return source.stored_jpeg(index) if isinstance(source, DicomSource) else None

    def can_seek(self, file: str) -> bool:
        """Return whether one frame can be decoded without those before it."""
        return not isinstance(self._source(file), VideoSource)

    def path(self, file: str) -> Path:
        """Return where a file lies on the disk, while the study is open."""
        return self._source(file).path

    def close(self) -> None:
        """Remove what was unpacked; frames can no longer be decoded."""
        if self._scratch is not None:
            self._scratch.cleanup()
            self._scratch = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _source(self, file: str) -> Source:
        if file not in self._sources:
            raise NotFound(f"no image {file!r} in this study; there are {list(self._sources)}")
        return self._sources[file]


def open_study(path: Path, worksheet: Path | None = None) -> OpenedStudy:
    """Open the images of one visit.

    Parameters
    ----------
    path : Path
        A folder (searched to its end), a ``.zip``, or one file.
    worksheet : Path, optional
        The worksheet; without it, ``worksheet.toml`` beside the images.

    Raises
    ------
    NothingReadable
        When no image could be read; the message says why and what to do.
    WorksheetError
        When the worksheet is wrong; the message names the key.
    """
    scratch = tempfile.TemporaryDirectory(prefix="tableside-")
    try:
        gathered = gather(path, Path(scratch.name) / "unpacked")
        written = _worksheet(worksheet or gathered.worksheet)
        return _open(path, gathered, written, scratch)
    except BaseException:
        scratch.cleanup()
        raise


def open_named(files: Iterable[tuple[str, Path]], shown: str = "this study") -> OpenedStudy:
    """Open files that lie anywhere; each comes with its name inside the study.

    ``shown`` is what an error calls the study. Raises as `open_study`.
    """
    scratch = tempfile.TemporaryDirectory(prefix="tableside-")
    try:
        gathered = gather_named(files)
        return _open(shown, gathered, _worksheet(gathered.worksheet), scratch)
    except BaseException:
        scratch.cleanup()
        raise


def _worksheet(path: Path | None) -> "Worksheet | None":
    if path is None:
        return None
    from tableside.intake.worksheet import read_worksheet  # noqa: PLC0415  pydantic is slow

    return read_worksheet(path)


def _open(
    shown: Path | str,
    gathered: Gathered,
    written: "Worksheet | None",
    scratch: "tempfile.TemporaryDirectory[str]",
) -> OpenedStudy:
    files, rejected = _open_all(gathered, Path(scratch.name))
    rejected = [*gathered.rejected, *rejected]
    if not files:
        raise NothingReadable(_why_nothing(shown, rejected))
    chosen = choose_patient(files, written)
    rejected += chosen.rejected
    labelled = label(chosen.files, written, rejected, gathered.outside)
    study = Study(
        patient=chosen.patient,
        visit=chosen.visit,
        images=labelled.images,
        calipers=labelled.calipers,
        rejected=(*rejected, *labelled.rejected),
        notes=chosen.notes,
    )
    return OpenedStudy(study, {one.image.file: one.source for one in chosen.files}, scratch)


def _open_all(gathered: Gathered, scratch: Path) -> tuple[list[OpenedFile], list[Rejected]]:
    """Open every file; on a medium with an index, files of the viewer on it are passed over."""
    files: list[OpenedFile] = []
    rejected: list[Rejected] = []
    has_index = False
    strays: list[Rejected] = []
    for found in gathered.files:
        try:
            files.append(open_file(found, scratch))
        except PassedOver as signal:
            has_index = has_index or signal.is_index
        except UnreadableFile as error:
            refusal = Rejected(file=found.name, reason=str(error))
            (strays if found.kind is FileKind.OTHER else rejected).append(refusal)
    return files, rejected if has_index else rejected + strays


def _why_nothing(path: Path | str, rejected: Sequence[Rejected]) -> str:
    if not rejected:
        return f"{path} holds no images. Give the folder with the files from the machine."
    first = rejected[0]
    more = f" and {len(rejected) - 1} more" if len(rejected) > 1 else ""
    reason = first.reason.rstrip(".")
    return (
        f"nothing in {path} can be read: {first.file}: {reason}{more}. Give the folder "
        "with the DICOM files from the machine."
    )
