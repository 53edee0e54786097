"""The families of tracings: how many, how they are drawn, made and read."""

from collections.abc import Callable, Mapping, Sequence

from benchmarks.accuracy import doppler_cases, mmode_cases
from benchmarks.accuracy.case import Answer, Case, Row, Tracing, read, rows_of
from benchmarks.accuracy.design import draw
from benchmarks.accuracy.ecg_score import EcgRow, ecg_row, print_ecg

SIZES = {"mmode": (36, 300), "valve": (16, 150), "base": (16, 150), "doppler": (54, 450)}
NAMES = {
    "mmode": "left ventricle",
    "valve": "mitral valve",
    "base": "aorta and left atrium",
    "doppler": "doppler",
}
MAKE: Mapping[str, Callable[[Case], Tracing]] = {
    "left ventricle": mmode_cases.make,
    "mitral valve": mmode_cases.make,
    "aorta and left atrium": mmode_cases.make,
    "doppler": doppler_cases.make,
}


def design(name: str, count: int, tune: bool) -> list[Case]:
    """Return the cases of a family."""
    levels = doppler_cases.LEVELS if name == "doppler" else mmode_cases.LEVELS
    return draw(NAMES[name], count, levels, tune)


def outcome(case: Case) -> tuple[Case, list[Row], Answer, EcgRow | None]:
    """Make and read one tracing."""
    tracing = MAKE[case.family](case)
    answer = read(tracing)
    return case, rows_of(tracing, answer), answer, ecg_row(tracing, answer)


__all__ = ["MAKE", "NAMES", "SIZES", "EcgRow", "Sequence", "design", "outcome", "print_ecg"]
