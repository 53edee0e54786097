"""Heart rates by image, for the two laws that compare them."""

from dataclasses import dataclass
from statistics import fmean

from tableside.model import Exam


@dataclass(frozen=True, slots=True)
class Rate:
    """The heart rate of one image, in beats a minute."""

    file: str
    value: float
    share: float  # its sd as a share


def rates(exam: Exam) -> tuple[Rate, ...]:
    """Return the mean rate of every image that one was measured on, by file name."""
    by_file: dict[str, list[tuple[float, float]]] = {}
    for one in exam.all("HR"):
        share = one.sd / one.value if one.value else 0.0
        for beat in one.beats:
            if beat.used and beat.value > 0:
                by_file.setdefault(beat.file, []).append((beat.value, share))
    return tuple(
        Rate(file, fmean(v for v, _ in beats), fmean(s for _, s in beats))
        for file, beats in sorted(by_file.items())
    )
