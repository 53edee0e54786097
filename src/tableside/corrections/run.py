"""The reading of a study with everything that people changed: a pure function of the log."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from tableside.automatic import ImageReading
from tableside.corrections.beats import BeatEdits, edits_by_beat
from tableside.corrections.decisions import Decision, decisions, is_refused
from tableside.corrections.facts import Facts, Line, facts_after
from tableside.corrections.history import effective
from tableside.corrections.names import BeatName
from tableside.credibility import checks
from tableside.errors import TablesideError
from tableside.model import Exam, Image, Measurement, Point, Reading, Study, Suggestion
from tableside.reading import Looked, derived, judge, measured
from tableside.reference import with_references
from tableside.store.edit_log import EditRecord


class Look(Protocol):
    """Looks at images; may remember what it found, which depends on its arguments alone."""

    def image(self, image: Image) -> Looked:
        """Return what `tableside.reading.look` finds."""

    def line(self, image: Image, line: Line) -> ImageReading:
        """Return what an M-mode along a line of a cine gives; raises `NotMeasurable`."""


Names = Mapping[str, Mapping[tuple[object, ...], Sequence[BeatName]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """A reading, and what the desk shows beside it.

    ``refused`` are the numbers that a person refused: they take no part in the reading.
    ``names`` gives the names of beats by measurement and place. ``found_at`` is where they
    were found at first; ``moved`` are those that a person moved. ``without_effect`` says of
    which edits nothing is seen, and why. ``suggestions`` are labels for images without one,
    by file. ``looked`` is what was seen on each image.
    """

    reading: Reading
    refused: tuple[Measurement, ...]
    decided: Mapping[str, Decision]
    names: Names
    found_at: Mapping[BeatName, tuple[Point, ...]]
    moved: frozenset[BeatName]
    without_effect: Mapping[int, str]
    suggestions: Mapping[str, Suggestion]
    looked: Sequence[Looked]


Conclude = Callable[[Exam, Sequence[Looked]], Reading]


def corrected(
    study: Study, records: Sequence[EditRecord], look: Look, known: Sequence[Corrected] = ()
) -> Corrected:
    """Read a study with the edits of its log.

    Parameters
    ----------
    study : Study
        As the files and the worksheet describe it.
    records : sequence of EditRecord
        The whole log, also with undo and redo.
    look : Look
    known : sequence of Corrected
        Earlier readings of this study: what was concluded from the same numbers is taken from
        them, because concluding is slow and depends on the numbers alone.
    """

    def conclude(exam: Exam, looked: Sequence[Looked]) -> Reading:
        for one in known:
            if replace(one.reading.exam, joint=None) == exam and one.looked == looked:
                return one.reading
        return judge(exam, looked)

    return _corrected(study, records, look, conclude)


def previewed(
    study: Study, records: Sequence[EditRecord], look: Look, before: Reading
) -> Corrected:
    """Like `corrected`, but quick: only checks by single laws are made anew.

    Findings, and what the model of the whole examination says, are those of ``before``.
    """

    def conclude(exam: Exam, _: Sequence[Looked]) -> Reading:
        exam = replace(exam, joint=before.exam.joint)
        old = {one.id: one for one in checks(before.exam)}
        new = {one.id: one for one in checks(exam) if old.get(one.id) != one}
        kept = [new.pop(one.id, one) for one in before.checks]
        return replace(before, exam=exam, checks=(*kept, *new.values()))

    return _corrected(study, records, look, conclude)


def _corrected(
    study: Study,
    records: Sequence[EditRecord],
    look: Look,
    conclude: Conclude,
) -> Corrected:
    edits = effective(records)
    facts = facts_after(study, edits)
    looked = [look.image(image) for image in facts.study.images]
    looked = [_with_line(one, facts, look) for one in looked]
    beats = BeatEdits(
        images={one.image.file: one.image for one in looked if one.image is not None},
        traces=[trace for one in looked for trace in one.found.traces],
        calipers=facts.calipers,
        edits=edits_by_beat(edits),
    )
    exam = measured(facts.study, looked, beats.correct)
    beats.note_unseen()
    decided = decisions(edits)
    refused = tuple(one for one in exam.measurements if is_refused(one, decided))
    kept = tuple(one for one in exam.measurements if one not in refused)
    return Corrected(
        reading=conclude(derived(replace(exam, measurements=kept)), looked),
        refused=_with_references(exam, refused),
        decided=decided,
        names=beats.names,
        found_at=beats.found_at,
        moved=frozenset(beats.moved),
        without_effect={**facts.without_effect, **beats.without_effect},
        suggestions={
            one.image.file: one.suggestion
            for one in looked
            if one.image is not None and one.suggestion is not None
        },
        looked=looked,
    )


def _with_line(one: Looked, facts: Facts, look: Look) -> Looked:
    """Add what the M-mode along a line of a cine gave."""
    if one.image is None or one.image.file not in facts.lines:
        return one
    version, line = facts.lines[one.image.file]
    try:
        found = look.line(one.image, line)
    except TablesideError as error:
        facts.without_effect[version] = str(error)
        return one
    both = ImageReading(
        measurements=one.found.measurements + found.measurements,
        traces=one.found.traces + found.traces,
        notes=one.found.notes + found.notes,
    )
    return replace(one, found=both)


def _with_references(exam: Exam, refused: tuple[Measurement, ...]) -> tuple[Measurement, ...]:
    if not refused:
        return ()
    return with_references(replace(exam, measurements=refused, indices=())).measurements
