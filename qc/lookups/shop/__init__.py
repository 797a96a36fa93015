"""Reads about the shop itself: its choices, its resources and its pace."""
