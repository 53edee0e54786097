"""Do the numbers of one examination fit each other? One law a file."""
