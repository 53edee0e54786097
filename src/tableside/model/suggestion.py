"""What an unlabelled image probably shows: a suggestion, never a label by itself."""

from collections.abc import Mapping
from dataclasses import dataclass

SOMETHING_ELSE = "something else"


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """The labels that an image may have, each with its probability; they add to 1.

    ``kind`` is ``mmode`` or ``flow``: which label of the worksheet is meant. ``probabilities``
    holds every label of that kind and `SOMETHING_ELSE`. ``evidence`` says in words what speaks
    for the likeliest. ``certain`` is the label that may be used unasked, None when no label
    reaches the certainty that `suggest.toml` states.
    """

    kind: str
    probabilities: Mapping[str, float]
    evidence: tuple[str, ...] = ()
    certain: str | None = None

    @property
    def likeliest(self) -> tuple[tuple[str, float], ...]:
        """Labels with their probabilities, the likeliest first; alike ones by name."""
        return tuple(sorted(self.probabilities.items(), key=lambda item: (-item[1], item[0])))
