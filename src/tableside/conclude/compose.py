"""Put a finding together from a guideline and what it made of the numbers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from tableside.conclude.chance import rounded
from tableside.conclude.guideline import Guideline
from tableside.conclude.inputs import Input, doubts
from tableside.model import Check, Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Conclusion:
    """What a guideline made of one exam.

    ``noted`` are inputs that carry no error, as text. ``cautions`` go before those of the
    guideline; ``source`` replaces its source.
    """

    id: str
    statement: str
    used: tuple[Input, ...] = ()
    probability: Mapping[str, float] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    noted: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    title: str | None = None
    source: str | None = None


def finding(rule: Guideline, checks: Sequence[Check], conclusion: Conclusion) -> Finding:
    """Return a conclusion as a finding, with the doubts of its inputs put first."""
    probability = conclusion.probability
    doubted = doubts(conclusion.used, checks)
    return Finding(
        id=conclusion.id,
        title=conclusion.title or rule.title,
        statement=conclusion.statement,
        source=conclusion.source or rule.source,
        probability=rounded(probability) if probability else {},
        inputs=(*(str(one) for one in conclusion.used), *conclusion.noted),
        missing=conclusion.missing,
        cautions=(*doubted, *conclusion.cautions, *rule.cautions),
    )
