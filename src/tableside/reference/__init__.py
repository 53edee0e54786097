"""Published intervals: read, checked, and looked up for one animal."""

from tableside.reference.lookup import references, with_references

__all__ = ["references", "with_references"]
