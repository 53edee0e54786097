"""What a person changed: edits of the log, applied to the records of a study."""
