"""What is kept: the files of a study as they came, and the log of what people did with it."""
