"""Points and a region become a measurement, with its beats and its spread."""
