"""The families of tracings: how many, how they are drawn, made and read."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from benchmarks.accuracy import (
    doppler_cases,
    ecg_cases,
    mmode_cases,
    pymust_cases,
    pymust_spectra,
)
from benchmarks.accuracy.case import Answer, Case, Row, Tracing, read, rows_of
from benchmarks.accuracy.design import draw
from benchmarks.accuracy.ecg_score import EcgRow, ecg_row
from benchmarks.accuracy.edge_score import EdgeRow, edge_rows

SIZES = {
    "mmode": (48, 300),
    "valve": (16, 150),
    "base": (16, 150),
    "tapse": (10, 80),
    "mapse": (10, 80),
    "doppler": (90, 540),
    "ecg": (40, 300),
    "pymust": (18, 72),
    "pymust-doppler": (18, 90),
}
NAMES = {
    "mmode": "left ventricle",
    "valve": "mitral valve",
    "base": "aorta and left atrium",
    "tapse": "tricuspid annulus",
    "mapse": "mitral annulus",
    "doppler": "doppler",
    "ecg": "ecg record",
    "pymust": "pymust m-mode",
    "pymust-doppler": "pymust doppler",
}
MAKE: Mapping[str, Callable[[Case], Tracing]] = {
    "left ventricle": mmode_cases.make,
    "mitral valve": mmode_cases.make,
    "aorta and left atrium": mmode_cases.make,
    "tricuspid annulus": mmode_cases.make,
    "mitral annulus": mmode_cases.make,
    "doppler": doppler_cases.make,
    "ecg record": ecg_cases.make,
    "pymust m-mode": pymust_cases.make,
    "pymust doppler": pymust_spectra.make,
}
LEVELS = {
    "doppler": doppler_cases.LEVELS,
    "ecg": ecg_cases.LEVELS,
    "pymust": pymust_cases.LEVELS,
    "pymust-doppler": pymust_spectra.LEVELS,
}
PRESENT = {
    "ecg": ecg_cases.is_present,
    "pymust": pymust_cases.is_present,
    "pymust-doppler": pymust_spectra.is_present,
}  # families whose data may be absent


def design(name: str, count: int, tune: bool) -> list[Case]:
    """Return the cases of a family."""
    if name in PRESENT and not PRESENT[name]():
        return []
    return draw(NAMES[name], count, LEVELS.get(name, mmode_cases.LEVELS), tune)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Everything that is scored of one tracing."""

    rows: list[Row]
    answer: Answer
    ecg: EcgRow | None
    edges: list[EdgeRow]


def outcome(case: Case) -> Outcome:
    """Make and read one tracing."""
    tracing = MAKE[case.family](case)
    answer = read(tracing)
    return Outcome(
        rows=rows_of(tracing, answer),
        answer=answer,
        ecg=ecg_row(tracing, answer),
        edges=edge_rows(tracing, answer),
    )
