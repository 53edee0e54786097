"""Studies with known truth, made by physics."""
