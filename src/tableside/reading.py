"""The arrow, written once: study, images, measurements, indices, checks, findings.

`read` computes; `write` puts the three files of the contract into a folder. Clock, network and
randomness have no part in either. The steps of `read` are public, because a person's
corrections come between them: `look` is slow and depends on one image alone, the rest is quick.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path

from tableside.automatic import ImageReading
from tableside.automatic.doppler import measure_spectrum
from tableside.automatic.ecg import electrocardiogram, read_ecg
from tableside.automatic.mmode import measure_mmode
from tableside.automatic.scale import check_scale
from tableside.automatic.suggest import labelled, suggest
from tableside.conclude import findings
from tableside.credibility import checks
from tableside.credibility.exam_model import fault_checks, fit, merge
from tableside.credibility.next_best import ranking
from tableside.credibility.protocol import protocol
from tableside.derive import indices
from tableside.errors import TablesideError
from tableside.imaging.types import Pixels
from tableside.intake import OpenedStudy
from tableside.measure.average import with_variation
from tableside.measure.calipers import caliper_measurements
from tableside.measure.combine import combine
from tableside.model import (
    Exam,
    Image,
    Measurement,
    Mode,
    Reading,
    Rejected,
    Study,
    Suggestion,
    quantities,
)
from tableside.reference import with_references

Progress = Callable[[str, int, int], None]
Correct = Callable[[Measurement], Measurement]

NOTHING = ImageReading()


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """One image after it was looked at: the record, or why it was given up, and its numbers.

    ``suggestion`` says what an image without a label probably shows.
    """

    image: Image | None
    rejected: Rejected | None = None
    found: ImageReading = NOTHING
    suggestion: Suggestion | None = None


def read(
    opened: OpenedStudy, progress: Progress | None = None, spreads: Path | None = None
) -> Reading:
    """Read an opened study from its pixels to its findings.

    Parameters
    ----------
    opened : OpenedStudy
        From `tableside.intake.open_study`.
    progress : callable, optional
        Called with the file, its position from 1 and the number of files before each image.
    spreads : Path, optional
        A practice's own components, as ``tableside repeatability`` writes them.

    Notes
    -----
    An image that cannot be decoded or measured never stops the others: it is rejected, or it
    stays with a note that says why nothing was measured on it.
    """
    own = None if spreads is None else quantities(spreads)
    looked = list(_look_at_all(opened, progress))

    def as_here(one: Measurement) -> Measurement:
        return one if own is None else with_variation(one, own[one.quantity].variation)

    return judge(derived(measured(opened.study, looked, as_here)), looked)


def measured(study: Study, looked: Sequence[Looked], correct: Correct | None = None) -> Exam:
    """Put together what was measured on the images and what a person measured.

    Parameters
    ----------
    study : Study
        Its calipers are measured; its images are replaced by those that were looked at.
    looked : sequence of Looked
    correct : callable, optional
        Changes what one image gave of one quantity, before images are combined.
    """
    images = tuple(one.image for one in looked if one.image is not None)
    by_hand, not_used = caliper_measurements(replace(study, images=images))
    lost = tuple(one.rejected for one in looked if one.rejected is not None)
    study = replace(study, images=images, rejected=study.rejected + lost + not_used)
    by_program = (number for one in looked for number in one.found.measurements)
    single = chain(by_hand, by_program)
    return Exam(
        study=study, measurements=combine(list(map(correct, single) if correct else single))
    )


def derived(exam: Exam) -> Exam:
    """Add the indices and the published intervals."""
    return with_references(replace(exam, indices=indices(exam)))


def judge(exam: Exam, looked: Sequence[Looked]) -> Reading:
    """Check the numbers singly and jointly, conclude, and say what to do next.

    One model of the whole examination gives the joint belief: which number is the odd one out,
    how probable a stage is, and which repeat would settle most for its time.
    """
    belief = fit(exam)
    exam = replace(exam, joint=belief.joint())
    checked = merge(checks(exam), fault_checks(belief, exam))
    next_best = ranking(exam, belief, checked)
    return Reading(
        exam=exam,
        traces=tuple(trace for one in looked for trace in one.found.traces),
        checks=checked,
        findings=findings(exam, checked),
        advice=next_best.advice,
        sufficiency=next_best.sufficiency,
        protocol=protocol(exam, checked),
        notes=tuple(_notes(exam.study, looked)),
    )


def _notes(study: Study, looked: Sequence[Looked]) -> Iterator[str]:
    yield from study.notes
    for one in looked:
        if one.image is not None:
            yield from (f"{one.image.file}: {note}" for note in one.image.notes)
        yield from one.found.notes


def _look_at_all(opened: OpenedStudy, progress: Progress | None) -> Iterator[Looked]:
    images = opened.study.images
    for position, image in enumerate(images, start=1):
        if progress is not None:
            progress(image.file, position, len(images))
        yield look(opened, image)


def look(opened: OpenedStudy, image: Image) -> Looked:
    """Decode the last frame, where the ECG of the whole clip stands, and measure on it."""
    try:
        pixels = opened.frame(image.file, image.frames - 1)
    except TablesideError as error:
        return Looked(image=None, rejected=Rejected(file=image.file, reason=str(error)))
    image = check_scale(image, pixels)
    try:
        return _measure(image, pixels)
    except TablesideError as error:
        return Looked(image=image, found=ImageReading(notes=(f"{image.file}: {error}",)))


def _measure(image: Image, pixels: Pixels) -> Looked:
    """Measure what the label says, or what the image shows beyond doubt; else it waits."""
    rhythm, found = read_ecg(image, pixels)
    suggestion = suggest(image, pixels, rhythm)
    image = labelled(image, suggestion)
    if suggestion is None or suggestion.certain is not None:
        if image.mode in (Mode.M_MODE, Mode.COLOUR_M_MODE):
            found = _both(found, measure_mmode(image, pixels, rhythm, electrocardiogram(found)))
        elif image.mode is Mode.SPECTRAL:
            found = _both(found, measure_spectrum(image, pixels, rhythm))
    return Looked(image=image, found=found, suggestion=suggestion)


def _both(one: ImageReading, other: ImageReading) -> ImageReading:
    return ImageReading(
        measurements=one.measurements + other.measurements,
        traces=one.traces + other.traces,
        notes=one.notes + other.notes,
    )


def write(
    reading: Reading,
    opened: OpenedStudy,
    folder: Path,
    *,
    pdf: bool = True,
    template: str = "5200",
) -> tuple[Path, ...]:
    """Write ``study.json``, ``structured-report.dcm`` and ``report.pdf``; return their paths.

    Each file is written whole under another name first and then renamed, so that a crash
    leaves the earlier file or the new one, never half of one.
    """
    from tableside.report.structured import structured_report  # noqa: PLC0415
    from tableside.report.study_json import study_json  # noqa: PLC0415

    folder.mkdir(parents=True, exist_ok=True)
    evidence = {
        image.file: opened.path(image.file)
        for image in reading.exam.study.images
        if image.identity is not None
    }
    contents = {
        "study.json": study_json(reading).encode(),
        "structured-report.dcm": structured_report(reading, evidence, template=template),
    }
    if pdf:
        from tableside.report.letter import letter  # noqa: PLC0415
        from tableside.report.pictures import frames_to_show  # noqa: PLC0415

        pictures = {place: opened.frame(*place) for place in frames_to_show(reading)}
        contents["report.pdf"] = letter(reading, pictures)
    return tuple(_put(folder / name, content) for name, content in contents.items())


def _put(path: Path, content: bytes) -> Path:
    unfinished = path.with_name(f".{path.name}.part")
    unfinished.write_bytes(content)
    return unfinished.replace(path)
