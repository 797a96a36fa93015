"""The table twin of a drawing: the same numbers, for those who read rather than look."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """Text cells under headings that carry the units; the first cell of a row names the row."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> Table:
    """A Table whose rows are all as long as its headings. Raises ValueError where one is not."""
    kept = tuple(tuple(row) for row in rows)
    if any(len(row) != len(headings) for row in kept):
        raise ValueError("A row does not have one cell for each heading.")
    return Table(tuple(headings), kept)
