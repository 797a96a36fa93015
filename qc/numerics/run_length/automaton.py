"""Machines that read a chart's points letter by letter: every state they can reach, made few.

A machine here never ends but by a signal. Knows nothing of rules or of chances.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from qc.numerics.results import IntArray

SIGNAL = -1

State = TypeVar("State", bound=Hashable)
Letter = TypeVar("Letter")


@dataclass(frozen=True, eq=False)
class Machine:
    """after[i, j]: the state that follows state i on letter j, SIGNAL where the run ends there.

    label: shape (states,), what must be known of a state beside what follows it; states of unlike
    labels are never taken for one. start: the state before the first letter.
    """

    after: IntArray
    label: IntArray
    start: int = 0

    @property
    def states(self) -> int:
        return int(self.label.size)


def reached(
    start: State,
    letters: Sequence[Letter],
    *,
    move: Callable[[State, Letter], State | None],
    label: Callable[[State], int],
) -> Machine:
    """The machine of every state that letters lead to; move gives None for a signal."""
    number = {start: 0}
    queue, rows = [start], []
    for state in queue:
        row = []
        for letter in letters:
            after = move(state, letter)
            if after is not None and after not in number:
                number[after] = len(number)
                queue.append(after)
            row.append(SIGNAL if after is None else number[after])
        rows.append(row)
    return Machine(np.array(rows, dtype=np.int64), np.array([label(state) for state in queue]))


def smallest(machine: Machine) -> Machine:
    """The same with states taken together that no letters to come tell apart (Moore 1956)."""
    kind, kinds = machine.label, 0
    while True:
        after = np.where(machine.after == SIGNAL, SIGNAL, kind[machine.after])
        told_apart, first, kind = np.unique(
            np.column_stack([kind, after]), axis=0, return_index=True, return_inverse=True
        )
        if len(told_apart) == kinds:
            break
        kinds = len(told_apart)
    after = machine.after[first]
    return Machine(
        np.where(after == SIGNAL, SIGNAL, kind[after]), machine.label[first], kind[machine.start]
    )
