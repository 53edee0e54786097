"""Indices from measurements: formulas by topic, their catalogue, and the run over an exam."""

from tableside.derive.run import indices

__all__ = ["indices"]
