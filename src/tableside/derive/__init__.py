"""Published formulas, and the run that turns measurements into indices."""
