"""The engine's clock as a page draws it without script: where each position stands on the face.

Clocks run clockwise seen from the head end; from the tailstock, with the base toward you, the same
clock runs the other way round.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from dashboards.figures.lengths import whole_degrees

FACE, WORDS, MARK = 60.0, 84.0, 46.0


@dataclass(frozen=True)
class Spot:
    """A place on the face, in the drawing's units about its centre; y counts downward."""

    x: float
    y: float
    words: str


@dataclass(frozen=True)
class Clock:
    """`pointer` is where the fixture's index mark stands, None where that is not known."""

    spots: tuple[Spot, ...]
    from_tailstock: bool
    pointer: Spot | None = None


def engine_clock(
    names: Mapping[int, str], *, from_tailstock: bool = False, index_deg: float | None = None
) -> Clock:
    """The clock with these positions named, and the index mark where one is known."""
    return Clock(
        spots=tuple(_spot(at, WORDS, words, from_tailstock) for at, words in names.items()),
        from_tailstock=from_tailstock,
        pointer=(
            None
            if index_deg is None
            else _spot(index_deg, MARK, whole_degrees(index_deg), from_tailstock)
        ),
    )


def _spot(deg: float, radius: float, words: str, from_tailstock: bool) -> Spot:
    turn = math.radians(-deg if from_tailstock else deg)
    return Spot(round(radius * math.sin(turn), 2), round(-radius * math.cos(turn), 2), words)
