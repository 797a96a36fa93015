"""Reads of the drift watch: the jobs as it takes them, and what it believes of each resource."""
