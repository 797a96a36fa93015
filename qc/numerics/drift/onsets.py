"""Which onsets of a change are kept as they age: all of the newest, ever fewer of the old.

Of onsets more than 10 own jobs old every second is kept, of those over 20 every fourth, over 40
every eighth, over 80 every sixteenth, and none over 160; never more than one in `every`. A kept
onset stands for those around it.
"""

from __future__ import annotations

from qc.numerics.drift.jit import compiled

YOUNG = 10
OLDEST = 160


@compiled
def is_tried(own: int, every: int) -> bool:
    """Whether a change may begin at this own job (counted from 1)."""
    return own % every == 0


@compiled
def stands_for(age: int, every: int) -> int:
    """How many own jobs an onset of this age stands for. every: a power of two."""
    found = 1
    reach = YOUNG
    while age > reach and reach < OLDEST:
        found *= 2
        reach *= 2
    return max(found, every)


@compiled
def is_kept(onset: int, own: int, every: int) -> bool:
    """Whether the onset is still held when the resource has done `own` jobs."""
    age = own - onset
    return age <= OLDEST and onset % stands_for(age, every) == 0
