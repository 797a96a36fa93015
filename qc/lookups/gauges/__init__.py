"""Reads about gauges: studies of how they repeat, and how they stand against standards."""
