"""Reads that fill a whole page from several of the others."""
