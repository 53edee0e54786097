"""Reads a stored echocardiogram of a dog or cat and doubts every number in it."""
