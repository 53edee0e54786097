"""Do the numbers of one examination fit each other? One law a file."""

from tableside.credibility.run import LAWS, checks

__all__ = ["LAWS", "checks"]
