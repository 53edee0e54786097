"""The letter: what was found, what is doubtful, and every number, as a PDF.

The PDF is archival (PDF/A-2a), accessible (PDF/UA-1) and the same, byte for byte, for the same
reading.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from importlib.resources import as_file, files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from tableside.model import Reading
from tableside.report.glyphs import printable
from tableside.report.letter_text import letter_text
from tableside.report.pen import PictureOptions
from tableside.report.pictures import DEFAULTS, Place, draw_pictures

if TYPE_CHECKING:
    from tableside.report.pictures import Pixels

NO_DATE = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)  # where the visit has none


def letter(
    reading: Reading,
    pictures: Mapping[Place, Pixels],
    options: PictureOptions = DEFAULTS,
) -> bytes:
    """Write the letter.

    Parameters
    ----------
    reading : Reading
    pictures : mapping of (file, frame) to (rows, columns) or (rows, columns, 3) of uint8
        The decoded frames that `frames_to_show` names. A letter without any pictures is
        complete in words.
    options : PictureOptions

    Returns
    -------
    bytes
        A PDF of A4 pages, marked as an unsigned draft on each.

    Notes
    -----
    Text of the study reaches the template as data, never as markup. Fonts come with the
    program; none of the machine's are used, and nothing is fetched.
    """
    drawn = draw_pictures(reading, pictures, options)
    text = _printable(letter_text(reading, drawn))
    with TemporaryDirectory(prefix="tableside-") as folder:
        for place, picture in enumerate(drawn, 1):
            (Path(folder) / f"picture-{place}.png").write_bytes(picture.png)
        return _compile(Path(folder), text, _timestamp(reading))


def _compile(folder: Path, text: Any, timestamp: dt.datetime) -> bytes:
    import typst  # noqa: PLC0415

    shipped = files("tableside") / "report"
    template = folder / "letter.typ"
    template.write_bytes((shipped / "letter.typ").read_bytes())
    with as_file(shipped / "fonts") as fonts:
        pdf: bytes = typst.compile(
            str(template),
            root=str(folder),
            font_paths=typst.Fonts(
                include_system_fonts=False,
                include_embedded_fonts=False,
                font_paths=[str(fonts)],
            ),
            format="pdf",
            sys_inputs={"letter": json.dumps(text, allow_nan=False)},
            pdf_standards=["a-2a", "ua-1"],
            timestamp=timestamp,
        )
        return pdf


def _printable(value: Any) -> Any:
    """Return the data with every text in characters that the typeface has."""
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, Mapping):
        return {key: _printable(one) for key, one in value.items()}
    if isinstance(value, Sequence):
        return [_printable(one) for one in value]
    return value


def _timestamp(reading: Reading) -> dt.datetime:
    day = reading.exam.visit.date
    return dt.datetime.combine(day, dt.time(12), tzinfo=dt.UTC) if day else NO_DATE
