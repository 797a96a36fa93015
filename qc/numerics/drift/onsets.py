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


@compiled
def is_tried(own: int, every: int) -> bool:
    """Whether a change may begin at this own job (counted from 1)."""
    return own % every == 0


@compiled
def stand_for(ages: IntArray, every: IntArray) -> IntArray:
    """How many own jobs onsets of these ages stand for. every: a power of two each."""
    spacing = np.ones(ages.size, dtype=np.int64)
    reach = YOUNG
    while reach <= SPARSE_FROM:
        spacing = np.where(ages > reach, 2 * spacing, spacing)
        reach *= 2
    return np.maximum(spacing, every)


@compiled
def are_kept(onsets: IntArray, own: int, spacing: IntArray, oldest: IntArray) -> BoolArray:
    """Whether each onset is still held at `own` jobs; oldest: the age none passes, one each."""
    return (own - onsets <= oldest) & (onsets % spacing == 0)
