"""Readings and limits that look like a slip of the decimal point, or typed in another unit.

An inch typed as a millimetre is 25 times off, a thou 1000/25.4 = 39 times: both lie far outside
what one engine's gaps can differ by. Nothing here corrects; a person says which unit was meant.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

WIDEST_RATIO = 8.0
WHOLE_SET_RATIO = 2.0
# What one job asks for differs from its family by less: our own choice.
TARGET_RATIO = 2.0
TOLERANCE_RATIO = 4.0


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


def _near(value: float, reference: float, ratio: float) -> bool:
    return reference > 0 and reference / ratio < value < reference * ratio
