"""Readings that look as if they were typed in another unit.

An inch typed as a millimetre is 25 times off, a thou 1000/25.4 = 39 times: both lie far outside
what one engine's gaps can differ by. Nothing here corrects; a person says which unit was meant.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

WIDEST_RATIO = 8.0
WHOLE_SET_RATIO = 2.0


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


def _near(value: float, reference: float, ratio: float) -> bool:
    return reference > 0 and reference / ratio < value < reference * ratio
