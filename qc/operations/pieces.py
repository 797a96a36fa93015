"""Which piece and which crush an added reading is, from what its set holds already."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from qc.models import ReadingSet
from qc.operations.reading_rows import ReadingIn


def next_spots(
    reading_set: ReadingSet, readings: Sequence[ReadingIn], *, again: bool
) -> list[ReadingIn]:
    """The readings numbered on from the set's own, void ones counted.

    again: the position's newest piece was crushed once more; otherwise each is a new piece.
    """
    newest: dict[object, tuple[int, int]] = {}
    for one in reading_set.readings.all():
        spot = (one.piece, one.crush)
        newest[one.position_deg] = max(newest.get(one.position_deg, (0, 0)), spot)
    numbered = []
    for reading in readings:
        piece, crush = newest.get(reading.position_deg, (0, 0))
        spot = (piece, crush + 1) if again and piece else (piece + 1, 1)
        newest[reading.position_deg] = spot
        numbered.append(replace(reading, piece=spot[0], crush=spot[1]))
    return numbered
