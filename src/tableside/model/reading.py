"""What comes out: everything known about one study, in one record."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from tableside.model.exam import Exam
from tableside.model.measurement import Trace


class Verdict(StrEnum):
    """What a check found."""

    HOLDS = "holds"
    DOUBTFUL = "doubtful"
    FAILS = "fails"
    NOT_ASSESSED = "not assessed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One law applied to the numbers of the study.

    ``probability_unusable`` is the probability that the number named first in ``about`` must
    not be used; None when nothing was assessed. ``message`` says what disagrees, by how much
    (in standard deviations and in the clinical unit) and the likely causes; ``remedy`` is one
    manoeuvre; ``seconds`` is how long it takes at the table. ``expected`` says what the number
    should have been, by the rest of the examination, where that was worked out.
    """

    id: str
    verdict: Verdict
    about: tuple[str, ...]
    message: str
    probability_unusable: float | None = None
    remedy: str | None = None
    seconds: int | None = None
    expected: str | None = None
    files: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What a published guideline makes of the numbers.

    ``probability`` has one entry a class; empty when the guideline cannot be applied.
    ``inputs`` are the numbers it used as a person would write them; ``missing`` are the ones
    it needs and does not have.
    """

    id: str
    title: str
    statement: str
    source: str
    probability: Mapping[str, float] = field(default_factory=dict)
    inputs: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One thing worth doing while the patient is there; ``gain`` is None until computed."""

    rank: int
    action: str
    about: tuple[str, ...]
    seconds: int | None = None
    gain: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sufficiency:
    """Whether the examination says enough: ``enough``, ``worth one more`` or ``not yet``."""

    verdict: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProtocolItem:
    """One view of a complete study and whether it is there: present, missing, not credible."""

    view: str
    state: str
    why: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """Everything that `tableside read` knows when it is done."""

    exam: Exam
    traces: tuple[Trace, ...] = ()
    checks: tuple[Check, ...] = ()
    findings: tuple[Finding, ...] = ()
    advice: tuple[Advice, ...] = ()
    protocol: tuple[ProtocolItem, ...] = ()
    notes: tuple[str, ...] = ()
    sufficiency: Sufficiency | None = None
