"""Reads about one job, its rounds and its cylinder: what was read, planned and achieved."""
