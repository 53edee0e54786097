"""The laws, one a file."""
