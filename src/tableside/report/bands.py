"""Where a value lies in its reference interval, for drawing.

Every interval is drawn over the same stretch of its line, so that the intervals of a table
stand above each other as one corridor and a value outside it is seen at once.
"""

from dataclasses import dataclass

from tableside.model import Number, Reference
from tableside.report.digits import decimals, written

LEFT, RIGHT = 0.3, 0.7  # the corridor, as shares of the line


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Positions as shares of the line, 0 to 1.

    ``place`` is ``inside``, ``above`` or ``below``; ``open_right`` says that the true value may
    lie anywhere to the right; ``beyond`` that the value itself is off the line.
    """

    corridor: tuple[float, float]
    value: float
    whisker: tuple[float, float]
    place: str
    open_right: bool
    beyond: bool


def band(one: Number, reference: Reference) -> Band | None:
    """Return how to draw a number against an interval, or None where nothing can be drawn."""
    low, high = reference.low, reference.high
    if (low is None and high is None) or (low is not None and high is not None and low >= high):
        return None
    scale = _Scale(low, high)
    position = scale.at(one.value)
    ends = sorted(_on_line(scale.at(end)) for end in one.interval90)
    is_open = one.bound == "lower"
    return Band(
        corridor=(LEFT if low is not None else 0.0, RIGHT if high is not None else 1.0),
        value=_on_line(position),
        whisker=(ends[0], 1.0 if is_open else ends[1]),
        place=place(one.value, reference),
        open_right=is_open,
        beyond=not 0.0 <= position <= 1.0,
    )


@dataclass(frozen=True, slots=True)
class _Scale:
    low: float | None
    high: float | None

    def at(self, value: float) -> float:
        """Return the position of a value; with one limit the line begins at zero."""
        if self.low is not None and self.high is not None:
            return LEFT + (value - self.low) / (self.high - self.low) * (RIGHT - LEFT)
        limit, position = (self.high, RIGHT) if self.low is None else (self.low, LEFT)
        return position * value / limit if limit else position + (value > 0) * 0.2


def place(value: float, reference: Reference) -> str:
    """Return whether a value is ``above``, ``below`` or ``inside`` an interval."""
    if reference.high is not None and value > reference.high:
        return "above"
    if reference.low is not None and value < reference.low:
        return "below"
    return "inside"


def limits(one: Number, reference: Reference) -> str:
    """Return the interval as text: ``1.27 to 1.85``, ``up to 1.79``, ``from 25``."""
    places = decimals(one.sd, one.value)
    low = None if reference.low is None else _limit(reference.low, places)
    high = None if reference.high is None else _limit(reference.high, places)
    if low is None:
        return f"up to {high}" if high is not None else "no limits given"
    return f"{low} to {high}" if high is not None else f"from {low}"


def _limit(value: float, places: int) -> str:
    """Write a limit with the digits it was printed with, at most those of the value."""
    exact = f"{value:.6g}"
    printed = len(exact.partition(".")[2])
    return written(value, min(max(places, 1), printed) if printed else 0)


def _on_line(position: float) -> float:
    return min(1.0, max(0.0, position))
