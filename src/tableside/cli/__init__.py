"""The command line: a thin skin over `tableside.reading`."""

from tableside.cli.app import main

__all__ = ["main"]
