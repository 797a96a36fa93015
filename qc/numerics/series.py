"""Argument checks for sequences of readings in cutting order, and where their stretches begin."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qc.errors import BadInput, TooFewReadings
from qc.numerics.checks import require_finite
from qc.numerics.results import FloatArray

BoolArray = NDArray[np.bool_]


def require_series(x: ArrayLike, *, what: str = "A reading", at_least: int = 1) -> FloatArray:
    """Shape (n,) of finite floats, n >= at_least. Raises BadInput, NotFinite, TooFewReadings."""
    values = _as_floats(x, what)
    if values.ndim != 1:
        raise BadInput(why=f"{what} is one number for each job; got shape {values.shape}.")
    return _checked(values, what, at_least)


def require_rows(
    x: ArrayLike, *, width: int | None = None, what: str = "A reading", at_least: int = 1
) -> FloatArray:
    """Shape (n, width) of finite floats, n >= at_least; any width of one or more if width is None.

    Raises BadInput, NotFinite, TooFewReadings.
    """
    rows = _as_floats(x, what)
    if rows.size == 0 and rows.ndim < 2:
        rows = rows.reshape(0, width or 1)
    if rows.ndim != 2 or rows.shape[1] != (width or max(rows.shape[1], 1)):
        wanted = width or "the same count of"
        raise BadInput(why=f"{what} has {wanted} numbers for each job; got shape {rows.shape}.")
    return _checked(rows, what, at_least)


def require_number(
    value: float, *, what: str, above: float = -math.inf, at_most: float = math.inf
) -> float:
    """One finite number with above < value <= at_most. Raises NotFinite, BadInput."""
    number = float(require_finite(value, what=what))
    if not above < number <= at_most:
        upper = "" if at_most == math.inf else f" and at most {at_most:g}"
        raise BadInput(why=f"{what} must be above {above:g}{upper}; got {number:g}.")
    return number


def require_starts(stretch_start: ArrayLike | None, n: int) -> BoolArray:
    """Shape (n,): True where a new stretch begins. The first job always begins one.

    None means one stretch. Raises BadInput on anything but n yes-or-no values.
    """
    starts = np.zeros(n, dtype=np.bool_)
    if stretch_start is not None:
        given = np.asarray(stretch_start)
        if given.shape != (n,) or (n and given.dtype != np.bool_):
            raise BadInput(why=f"Stretch starts are {n} yes-or-no values, one for each job.")
        starts |= given.astype(np.bool_)
    starts[:1] = True
    return starts


def stretches(starts: BoolArray) -> list[slice]:
    """The slices between the True marks, in order; together they hold every job once."""
    edges = [*np.flatnonzero(starts).tolist(), starts.size]
    return [slice(a, b) for a, b in pairwise(edges)]


def _as_floats(x: ArrayLike, what: str) -> FloatArray:
    try:
        return np.asarray(x, dtype=np.float64)
    except (TypeError, ValueError):
        raise BadInput(why=f"{what} must be a number, and rows of equal length.") from None


def _checked(values: FloatArray, what: str, at_least: int) -> FloatArray:
    if len(values) < at_least:
        raise TooFewReadings(needed=at_least, got=len(values))
    return require_finite(values, what=what) if values.size else values
