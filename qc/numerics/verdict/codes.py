"""Accept, cut again, undecided or reject, for one job or a million: the rule without the words."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from qc.numerics.results import VerdictKind

KINDS: tuple[VerdictKind, ...] = ("accept", "cut_again", "undecided", "reject")
ACCEPT, CUT_AGAIN, UNDECIDED, REJECT = (np.int8(code) for code in range(4))


def verdict_codes(
    *,
    height_mm: npt.ArrayLike,
    tightest_mm: npt.ArrayLike,
    side_to_side_mm: npt.ArrayLike,
    guard_height_mm: npt.ArrayLike,
    guard_tightest_mm: npt.ArrayLike,
    guard_evenness_mm: npt.ArrayLike,
    lower_mm: npt.ArrayLike,
    upper_mm: npt.ArrayLike,
    floor_mm: npt.ArrayLike,
    evenness_limit_mm: npt.ArrayLike,
    next_depth_mm: npt.ArrayLike,
    smallest_chip_mm: npt.ArrayLike,
    room_mm: npt.ArrayLike = math.inf,
) -> npt.NDArray[np.int8]:
    """The verdict of many jobs at once, as indices into KINDS; shapes that broadcast, all mm.

    accept: all three inside their limits shrunk by the guard bands.
    reject: height or tightest beyond the low side grown by its guard; or evenness beyond its grown
        limit when a levelling cut, which takes nothing at the tight side and the whole difference
        at the wide side, would leave the height low or needs more than `room_mm` of flange.
    cut again: height beyond the grown high side, the next depth is a chip the edge can cut, and
        it is not so uneven that levelling would leave the height under the low side itself.
    undecided: anything else. NaN evenness (not shown) is neither inside nor beyond.
    """
    height, tightest = np.asarray(height_mm), np.asarray(tightest_mm)
    uneven_by, guard = np.asarray(side_to_side_mm), np.asarray(guard_height_mm)
    depth = np.asarray(next_depth_mm)
    lower, upper = np.asarray(lower_mm), np.asarray(upper_mm)
    lowest_shown = lower - guard

    inside = (height >= lower + guard) & (height <= upper - guard)
    inside &= tightest >= np.add(floor_mm, guard_tightest_mm)
    inside &= uneven_by <= np.subtract(evenness_limit_mm, guard_evenness_mm)
    again = (height > upper + guard) & (depth >= smallest_chip_mm) & (depth > 0)
    low = (height < lowest_shown) | (tightest < np.subtract(floor_mm, guard_tightest_mm))
    uneven = uneven_by > np.add(evenness_limit_mm, guard_evenness_mm)
    levelled = height - uneven_by / 2.0
    again &= ~(uneven & (levelled < lower))
    low |= uneven & ((levelled < lowest_shown) | (uneven_by > room_mm))

    mild = np.where(inside, ACCEPT, np.where(again, CUT_AGAIN, UNDECIDED))
    return np.where(low, REJECT, mild)
