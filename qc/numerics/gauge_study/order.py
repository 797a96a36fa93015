"""In which order a gauge study is read, so that drift and memory do not look like a hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.errors import BadInput


@dataclass(frozen=True)
class Turn:
    """One reading to take: numbers of hand, part and trial, each from 0."""

    hand: int
    part: int
    trial: int


def drawn_order(*, hands: int, parts: int, trials: int, rng: np.random.Generator) -> list[Turn]:
    """Every hand reads every part once before any reads it again; the rest is drawn.

    In each trial the hands come in a drawn order, and each goes through the parts in an order
    drawn for it alone. Raises BadInput where there is nothing to draw from.
    """
    if hands < 1 or parts < 1 or trials < 1:
        raise BadInput(why="A study needs hands, parts and trials.")
    return [
        Turn(int(hand), int(part), trial)
        for trial in range(trials)
        for hand in rng.permutation(hands)
        for part in rng.permutation(parts)
    ]
