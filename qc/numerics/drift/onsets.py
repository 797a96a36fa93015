"""Which onsets of a change are kept as they age: all of the newest, ever fewer of the old.

Of onsets more than 8 own jobs old every second is kept, of those over 16 every fourth, over 32
every eighth, over 64 every sixteenth, and none over its shape's `oldest`; never more than one in
`every`. A kept onset stands for those around it.
"""

from __future__ import annotations

import numpy as np

from qc.numerics.drift.jit import compiled
from qc.numerics.results import IntArray
from qc.numerics.series import BoolArray

YOUNG = 8
SPARSE_FROM = 64
# How many own jobs an onset stands for, by its age; the last for all that are older.
SPACING = np.array([1 << (max(age - 1, 0) // YOUNG).bit_length() for age in range(SPARSE_FROM + 2)])


@compiled
def is_tried(own: int, every: int) -> bool:
    """Whether a change may begin at this own job (counted from 1)."""
    return own % every == 0


@compiled
def stand_for(ages: IntArray, every: IntArray) -> IntArray:
    """How many own jobs onsets of these ages stand for. every: a power of two each."""
    return np.maximum(SPACING[np.minimum(ages, SPACING.size - 1)], every)


@compiled
def are_kept(onsets: IntArray, own: int, spacing: IntArray, oldest: IntArray) -> BoolArray:
    """Whether each onset is still held at `own` jobs; oldest: the age none passes, one each.

    spacing: a power of two each, which spares a division.
    """
    return (own - onsets <= oldest) & (onsets & (spacing - 1) == 0)
