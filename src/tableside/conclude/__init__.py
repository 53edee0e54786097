"""What published guidelines make of the numbers. One guideline a file."""
