"""Shared checks of what comes into a sum: finite, of a possible size, of matching shape.

Each returns plain float64, so that the sums that follow need no further conversion.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from qc.errors import (
    BadInput,
    LengthOutOfReach,
    LengthTooLarge,
    NegativeLength,
    NotFinite,
    OutOfReach,
    TooFewReadings,
)
from qc.numerics.results import FloatArray

LARGEST_GAP_MM = 50.0
LARGEST_LENGTH_MM = 2000.0


def require_finite(values: npt.ArrayLike, *, what: str, at_least: int = 1) -> FloatArray:
    """Numbers of any shape as float64. Raises TooFewReadings, or NotFinite on NaN or inf."""
    array, _, _ = _with_extremes(values, what=what, at_least=at_least)
    return array


def require_lengths_mm(
    values: npt.ArrayLike,
    *,
    what: str,
    at_most_mm: float = LARGEST_LENGTH_MM,
    at_least: int = 1,
) -> FloatArray:
    """Lengths, mm, any shape. Raises NegativeLength or LengthTooLarge, naming the worst value."""
    array, smallest, largest = _with_extremes(values, what=what, at_least=at_least)
    if smallest < 0:
        raise NegativeLength(what=what, got_mm=smallest)
    if largest > at_most_mm:
        raise LengthTooLarge(what=what, got_mm=largest, limit_mm=at_most_mm)
    return array


def _with_extremes(
    values: npt.ArrayLike, *, what: str, at_least: int
) -> tuple[FloatArray, float, float]:
    array = np.asarray(values, dtype=np.float64)
    if array.size < at_least:
        raise TooFewReadings(needed=at_least, got=array.size)
    smallest, largest = float(array.min()), float(array.max())
    # The extremes of an array holding a NaN are NaN: two passes see every bad value.
    for extreme in (smallest, largest):
        if not math.isfinite(extreme):
            raise NotFinite(what=what, got=extreme)
    return array, smallest, largest


def require_length_mm(
    value: float, *, what: str, at_most_mm: float = LARGEST_LENGTH_MM, above_zero: bool = False
) -> float:
    """One length, mm. Raises as require_lengths_mm, and BadInput for 0 where that cannot be."""
    length = float(require_lengths_mm(value, what=what, at_most_mm=at_most_mm))
    if above_zero and length == 0:
        raise BadInput(why=f"{what} must be more than zero.")
    return length


def require_between(value: float, *, what: str, lowest: float, highest: float) -> float:
    """A number within a closed range. Raises NotFinite or OutOfReach."""
    number = float(require_finite(value, what=what))
    if not lowest <= number <= highest:
        raise OutOfReach(what=what, got=f"{number:g}", lowest=f"{lowest:g}", highest=f"{highest:g}")
    return number


def require_length_between_mm(value: float, *, what: str, lowest: float, highest: float) -> float:
    """A length within a closed range, mm. Raises NotFinite or LengthOutOfReach."""
    length = float(require_finite(value, what=what))
    if not lowest <= length <= highest:
        raise LengthOutOfReach(what=what, got_mm=length, lowest_mm=lowest, highest_mm=highest)
    return length


def require_same_length(**arrays: npt.ArrayLike | Sequence[float | None]) -> None:
    """Raises BadInput naming every length unless all arrays have as many entries as the first."""
    lengths = {name: np.asarray(array).size for name, array in arrays.items()}
    if len(set(lengths.values())) > 1:
        counted = ", ".join(f"{name} has {count}" for name, count in lengths.items())
        raise BadInput(why=f"Each reading needs one of everything: {counted}.")
