"""Addresses to functions: one module a topic."""
