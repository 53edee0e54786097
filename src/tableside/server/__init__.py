"""The desk's server: HTTP on this machine alone, a thin skin over corrections and reading."""
