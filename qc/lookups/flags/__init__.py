"""Reads about flags: what they tell and to whom, who it could be, and what to do about it."""
