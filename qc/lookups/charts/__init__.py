"""Reads behind the charts: what is kept of each kind, and the ways of looking at it."""
