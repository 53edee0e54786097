"""The whole tree of errors.

    TablesideError
    ├── InputError               the person can mend it; the command line ends with 1
    │   ├── OutOfRange           a number outside the range that a formula allows
    │   ├── NotFound             a name that is not in a list
    │   ├── WorksheetError       worksheet.toml: which key, and why
    │   ├── UnreadableFile       one file; the study goes on without it
    │   └── NothingReadable      the whole study holds nothing that can be read
    ├── NotMeasurable            a step looked and cannot answer; the image goes on without it
    └── DataError                a shipped data file is broken; a defect of ours

A message says what was given, what is allowed, and what to do.
"""


class TablesideError(Exception):
    """Any deliberate error; ``code`` stays the same across versions."""

    code = "error"


class InputError(TablesideError):
    """Something given is wrong and the person who gave it can mend it."""

    code = "input"


class OutOfRange(InputError):
    """A number outside the range in which a formula or table holds."""

    code = "out-of-range"


class NotFound(InputError):
    """A name that is not in a list; the message gives the list."""

    code = "not-found"


class WorksheetError(InputError):
    """The worksheet is wrong; the message names the key."""

    code = "worksheet"


class UnreadableFile(InputError):
    """One file cannot be used; the message is the reason shown to the person."""

    code = "unreadable-file"


class NothingReadable(InputError):
    """Nothing in the study can be read."""

    code = "nothing-readable"


class NotMeasurable(TablesideError):
    """An image step cannot answer; the message says why, in words a vet can act on."""

    code = "not-measurable"


class DataError(TablesideError):
    """A data file that ships with tableside breaks its own rules."""

    code = "data"


def require(name: str, value: float, low: float, high: float, hint: str) -> None:
    """Raise `OutOfRange` unless ``low <= value <= high``; ``hint`` says what to do."""
    if not low <= value <= high:
        raise OutOfRange(f"{name} = {value:g}; allowed {low:g} to {high:g}. {hint}")
