"""Reads a stored echocardiogram of a dog or cat and doubts every number in it.

>>> from pathlib import Path
>>> from tableside import open_study, read, write
>>> with open_study(Path("study")) as opened:  # doctest: +SKIP
...     reading = read(opened)
...     write(reading, opened, Path("results"))

Names are imported when they are first used, so that the command line starts at once.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tableside.errors import (
        DataError,
        InputError,
        NothingReadable,
        NotMeasurable,
        TablesideError,
        WorksheetError,
    )
    from tableside.intake import OpenedStudy, open_study
    from tableside.model import (
        Advice,
        Beat,
        Check,
        Exam,
        Finding,
        Image,
        Index,
        Measurement,
        Patient,
        ProtocolItem,
        Reading,
        Reference,
        Region,
        Rejected,
        Rhythm,
        Spread,
        Study,
        Trace,
        Verdict,
        Visit,
    )
    from tableside.reading import read, write

__all__ = [
    "Advice",
    "Beat",
    "Check",
    "DataError",
    "Exam",
    "Finding",
    "Image",
    "Index",
    "InputError",
    "Measurement",
    "NotMeasurable",
    "NothingReadable",
    "OpenedStudy",
    "Patient",
    "ProtocolItem",
    "Reading",
    "Reference",
    "Region",
    "Rejected",
    "Rhythm",
    "Spread",
    "Study",
    "TablesideError",
    "Trace",
    "Verdict",
    "Visit",
    "WorksheetError",
    "open_study",
    "read",
    "write",
]

_HOMES = ("tableside.model", "tableside.errors", "tableside.intake", "tableside.reading")


def __getattr__(name: str) -> object:
    if name in __all__:
        for home in _HOMES:
            module = import_module(home)
            if hasattr(module, name):
                return getattr(module, name)
    raise AttributeError(f"module 'tableside' has no attribute {name!r}")
