"""One line of the printed table."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Line:
    """What was measured, the figure, what it stands beside, and whether it holds."""

    what: str
    measured: str
    beside: str
    ok: bool
