"""Array to array: each step finds one thing in pixels and says how well."""
