"""What published guidelines make of the numbers. One guideline a file."""

from tableside.conclude.run import findings

__all__ = ["findings"]
