"""Readings and limits that look like a slip of the decimal point, or typed in another unit.

An inch typed as a millimetre is 25 times off, a thou 1000/25.4 = 39 times: both lie far outside
what one engine's gaps can differ by. Nothing here corrects; a person says which unit was meant.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np

from qc.numerics.positions import layout
from qc.numerics.results import FloatArray

WIDEST_RATIO = 8.0
WHOLE_SET_RATIO = 2.0
DIAL_RATIO = 3.0
EIGHT_AROUND = 8
# What one job asks for differs from its family by less: our own choice.
TARGET_RATIO = 2.0
TOLERANCE_RATIO = 4.0
# How far over the shop's limit a fixture is hardly left on purpose: our own choice.
AS_LEFT_RATIO = 4


def odd_one_out(values_mm: Sequence[float], *, expected_mm: float | None) -> int | None:
    """Index of the first reading whose unit is doubtful, or None.

    values_mm: positive, mm, in the order taken. Each is held against the median of the set, and
    the median against expected_mm where that is known. The factor 8 is the shop's own choice.
    """
    if not values_mm:
        return None
    middle = median(values_mm)
    if expected_mm is not None and not _near(middle, expected_mm, WIDEST_RATIO):
        return 0
    odd = (i for i, one in enumerate(values_mm) if not _near(one, middle, WIDEST_RATIO))
    return next(odd, None)


def whole_set_is_odd(height_mm: float, *, predicted_mm: float | None) -> bool:
    """True when a whole set lies a factor of 2 or more off what the cut should have left."""
    return predicted_mm is not None and not _near(height_mm, predicted_mm, WHOLE_SET_RATIO)


def far_from_usual(value_mm: float, *, usual_mm: float, ratio: float) -> bool:
    """True for what a job asks for, a target or a tolerance, a factor or more off its family's."""
    return not _near(value_mm, usual_mm, ratio)


@dataclass(frozen=True)
class DialOff:
    """A dial reading that stands off the circle through the others: which one, how far, and how far
    the others explain, mm."""

    index: int
    off_mm: float
    explained_mm: float


def dial_odd_one_out(
    dial_mm: Sequence[float], *, angles_deg: Sequence[float], dial_step_mm: float
) -> DialOff | None:
    """The dial reading that stands farthest off the circle through the others, where it stands
    off by more than DIAL_RATIO times what the others leave over, or None.

    What is left over: largest less smallest residual of the others; with fewer than EIGHT_AROUND
    readings, which leave little over by chance, their whole swing; never under two dial steps. The
    ratio is the shop's own choice: a needle that repeats within a step is asked about in none of
    600 simulated turns, and a reading ten times too large is found in nearly all.
    """
    dial, angles = np.asarray(dial_mm, dtype=float), np.asarray(angles_deg, dtype=float)
    n = dial.size
    found = [
        one
        for k in range(n)
        if (one := _off_the_others(dial, angles, k, dial_step_mm, by_swing=n < EIGHT_AROUND))
        and abs(one.off_mm) > DIAL_RATIO * one.explained_mm
    ]
    return max(found, key=lambda one: abs(one.off_mm) / one.explained_mm, default=None)


def _off_the_others(
    dial: FloatArray, angles: FloatArray, k: int, step_mm: float, *, by_swing: bool
) -> DialOff | None:
    """None where the others hold no circle."""
    rest = np.arange(dial.size) != k
    if layout(np.unique(angles[rest] % 360)).kind != "vector":
        return None
    phi = np.radians(angles)
    design = np.column_stack([np.ones(dial.size), np.cos(phi), np.sin(phi)])
    residual = dial - design @ (np.linalg.pinv(design[rest]) @ dial[rest])
    left = np.ptp(dial[rest]) if by_swing else np.ptp(residual[rest])
    return DialOff(k, float(residual[k]), max(float(left), 2 * step_mm))


def _near(value: float, reference: float, ratio: float) -> bool:
    return reference > 0 and reference / ratio < value < reference * ratio
