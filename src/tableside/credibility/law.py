"""A law: what it needs, to whom it applies, and how its judgement becomes a check."""

from collections.abc import Callable
from dataclasses import dataclass

from tableside.credibility.evidence import seen
from tableside.credibility.fault import verdict
from tableside.credibility.manoeuvres import manoeuvre
from tableside.model import Check, Exam, Species, Verdict

NOTED = {
    "weight": "the body weight",
    "systolic pressure": "a systolic pressure",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What a law makes of the numbers.

    ``wrong`` is the probability that they cannot all be right and gives the verdict;
    ``unusable`` is that of the number named first in ``about``. ``about`` replaces the
    law's own list where the law finds a better suspect.
    """

    wrong: float
    unusable: float
    message: str
    manoeuvre: str
    about: tuple[str, ...] = ()
    files: tuple[str, ...] = ()
    verdict: Verdict | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """One law. ``about`` names the number it doubts first; ``needs`` is what else it takes.

    ``judge`` returns a `Judgement`, a sentence that says why it cannot judge, or None when
    there is nothing to compare. The law is left out of the list then, and when ``concerns``
    (by default the first of ``about``) was not recorded at all.
    """

    id: str
    about: tuple[str, ...]
    needs: tuple[str, ...]
    judge: Callable[[Exam], Judgement | str | None]
    sources: tuple[str, ...]
    species: Species | None = None
    concerns: tuple[str, ...] = ()

    def applied(self, exam: Exam) -> Check | None:
        """Return the check, or None when nothing that the law concerns was recorded."""
        if not any(is_known(exam, name) for name in self.concerns or self.about[:1]):
            return None
        reason = self._obstacle(exam)
        found = self.judge(exam) if reason is None else reason
        if found is None:
            return None
        if isinstance(found, str):
            return Check(
                id=self.id,
                verdict=Verdict.NOT_ASSESSED,
                about=self.about,
                message=found,
                sources=self.sources,
            )
        return self._check(found)

    def _obstacle(self, exam: Exam) -> str | None:
        species = exam.patient.species
        if self.species is not None and species is None:
            return f"The species was not entered; this rule holds for a {self.species} only."
        if self.species is not None and species is not self.species:
            return f"This rule comes from {self.species}s and is not applied to a {species}."
        missing = [NOTED.get(name, name) for name in self.needs if not is_known(exam, name)]
        return f"Not recorded: {', '.join(missing)}." if missing else None

    def _check(self, found: Judgement) -> Check:
        state = found.verdict or verdict(found.wrong)
        step = None if state is Verdict.HOLDS else manoeuvre(found.manoeuvre)
        return Check(
            id=self.id,
            verdict=state,
            about=found.about or self.about,
            message=found.message,
            probability_unusable=round(min(max(found.unusable, 0.0), 1.0), 4),
            remedy=None if step is None else step.sentence,
            seconds=None if step is None else step.seconds,
            files=found.files,
            sources=self.sources,
        )


def is_known(exam: Exam, name: str) -> bool:
    """Return whether a number, the weight or the pressure is there."""
    if name == "weight":
        return exam.patient.weight_kg is not None
    if name == "systolic pressure":
        return exam.visit.systolic_pressure_mmHg is not None
    return seen(exam, name) is not None
