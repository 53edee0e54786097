"""The worksheet: what a person wrote about the study, checked key by key.

The format is written down in ``docs/intake.md``. Every key is optional; an unknown one is an
error, so that a slip of the pen is never silently ignored.
"""

import difflib
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from tableside.errors import WorksheetError
from tableside.intake.limits import MAX_WORKSHEET_BYTES
from tableside.intake.worksheet_keys import Worksheet

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

_POUND_KG = 0.45359237  # exact: international pound
_TYPES = {
    "string_type": "text in quotes",
    "float_type": "a number without quotes",
    "int_type": "a whole number without quotes",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "date_type": "a date such as 2026-03-14, without quotes",
    "date_from_datetime_inexact": "a date such as 2026-03-14, without a time",
    "list_type": "a list in brackets",
    "tuple_type": "a list in brackets",
    "is_instance_of": "text in quotes",
    "finite_number": "a number",
    "model_type": "a table",
    "model_attributes_type": "a table",
}
_LIMITS = {
    "greater_than_equal": "it must be at least {ge:g}",
    "greater_than": "it must be more than {gt:g}",
    "less_than_equal": "it must be at most {le:g}",
    "less_than": "it must be less than {lt:g}",
    "too_short": "it must hold at least {min_length}",
    "too_long": "it must hold at most {max_length}",
    "string_too_short": "it must not be empty",
    "string_too_long": "it must be at most {max_length} letters long",
}
_LISTED = ("image", "caliper")


def read_worksheet(path: Path) -> Worksheet:
    """Read and check a worksheet.

    Raises
    ------
    WorksheetError
        With one line that says which key is wrong, and why.
    """
    try:
        if path.stat().st_size > MAX_WORKSHEET_BYTES:
            raise WorksheetError(
                f"{path.name} is larger than any worksheet; is it another file?"
            )
        raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise WorksheetError(f"{path} cannot be opened: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise WorksheetError(f"{path.name} is not text in UTF-8; save it as UTF-8") from error
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise WorksheetError(f"{path.name} is not valid TOML: {error}") from error
    try:
        return Worksheet.model_validate(raw)
    except ValidationError as error:
        raise WorksheetError(f"{path.name}: {_line(error.errors()[0], raw)}") from error


def _line(error: "ErrorDetails", raw: dict[str, Any]) -> str:
    """Return one line: the key, what was given, what is allowed."""
    where, kind = error["loc"], error["type"]
    if kind == "extra_forbidden":
        return _unknown_key(where, raw)
    key = _shown(where)
    if kind == "value_error":
        reason = str(error["ctx"]["error"])
        return f"{key}: {reason}" if key else reason
    if kind == "missing":
        return f"{key} is missing"
    return f"{key} = {_short(error['input'])}; {_allowed_values(error, key)}"


def _allowed_values(error: "ErrorDetails", key: str) -> str:
    kind = error["type"]
    if kind == "tuple_type" and key in _LISTED:
        return f"it must be a list: write [[{key}]] in double brackets, once for each"
    if kind in _TYPES:
        return f"it must be {_TYPES[kind]}"
    if kind in _LIMITS:
        return _LIMITS[kind].format(**error["ctx"])
    return f"{error['msg'][0].lower()}{error['msg'][1:]}"


def _shown(where: tuple[int | str, ...]) -> str:
    """Return a place as the worksheet counts it: ``caliper[2].points``, from 1."""
    text = ""
    for step in where:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}"
    return text.removeprefix(".")


def _unknown_key(where: tuple[int | str, ...], raw: dict[str, Any]) -> str:
    *above, name = where
    allowed = _allowed(above)
    line = f"{_shown(tuple(where))} is not a key of the worksheet"
    stem = str(name).split("_")[0]
    close = difflib.get_close_matches(str(name), allowed, 1) or [
        key for key in allowed if key.split("_")[0] == stem
    ]
    if close:
        return f"{line}; is {close[0]} meant?{_pounds(name, close[0], where, raw)}"
    return f"{line}; here are {', '.join(allowed)}"


def _pounds(
    name: int | str, meant: str, where: tuple[int | str, ...], raw: dict[str, Any]
) -> str:
    if meant != "weight_kg" or not any(word in str(name) for word in ("lb", "pound")):
        return ""
    value: Any = raw
    for step in where:
        value = value[step]
    if not isinstance(value, int | float):
        return " Weight is in kilograms."
    return f" {value:g} pounds are {value * _POUND_KG:.1f} kg."


def _allowed(above: list[int | str]) -> list[str]:
    """Return the keys of the table that a place lies in."""
    model: Any = Worksheet
    for step in above:
        if isinstance(step, str):
            model = _inner(model.model_fields[step].annotation)
    return list(model.model_fields)


def _inner(annotation: Any) -> Any:
    """Return the table class inside ``Table``, ``Table | None`` or ``tuple[Table, ...]``."""
    if hasattr(annotation, "model_fields"):
        return annotation
    inside = getattr(annotation, "__args__", ())
    return next(one for one in inside if hasattr(one, "model_fields"))


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
