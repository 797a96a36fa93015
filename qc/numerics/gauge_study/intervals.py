"""Intervals for sums and differences of mean squares: modified large samples.

Graybill & Wang (JASA 1980) for sums, Ting, Burdick, Graybill, Jeyaratnam & Lu (J. Stat. Comput.
Simul. 1990) where a mean square is taken off. Exact for one mean square alone.
"""

from __future__ import annotations

import numpy as np
from scipy.special import chdtri, fdtri

from qc.numerics.capability.indices import Interval, require_confidence
from qc.numerics.results import FloatArray, IntArray


def variance_interval(
    coefficient: FloatArray, ms: FloatArray, df: IntArray, *, confidence: float = 0.95
) -> Interval:
    """Two-sided interval of sum coefficient_i E(MS_i), never under zero; all shapes (k,).

    Made for mean squares that are independent and chi-square, as in a balanced study. With unequal
    and missing cells they are nearly so: 0.93 to 0.97 is realised where 0.95 is asked for, the
    pooling of the interaction included (simulated in tests/numerics/test_gauge_coverage.py).
    """
    low, high = variance_bounds(coefficient, ms, df, confidence=confidence)
    return Interval(float(low), float(high))


def variance_bounds(
    coefficient: FloatArray, ms: FloatArray, df: IntArray, *, confidence: float = 0.95
) -> tuple[FloatArray, FloatArray]:
    """The same for many studies of one layout at once: ms of shape (k, n), both bounds (n,)."""
    tail = (1 - require_confidence(confidence)) / 2
    estimate = np.tensordot(coefficient, ms, axes=1)
    low = estimate - np.sqrt(_squared_reach(coefficient, ms, df, tail, upward=False))
    high = estimate + np.sqrt(_squared_reach(coefficient, ms, df, tail, upward=True))
    return np.maximum(0.0, low), np.maximum(0.0, high)


def satterthwaite_df(coefficient: FloatArray, ms: FloatArray, df: IntArray) -> float | None:
    """Degrees of freedom of the sum, None where the sum is not above zero (Satterthwaite 1946)."""
    total = float(coefficient @ ms)
    return total**2 / float(((coefficient * ms) ** 2 / df).sum()) if total > 0 else None


def _squared_reach(
    coefficient: FloatArray, ms: FloatArray, df: IntArray, tail: float, *, upward: bool
) -> FloatArray:
    """What the method adds to or takes from the estimate, squared."""
    along = (-1, *[1] * (ms.ndim - 1))
    part = coefficient.reshape(along) * ms
    below = 1 - df / chdtri(df, tail)  # how far one mean square's lower bound lies under it
    above = df / chdtri(df, 1 - tail) - 1
    own_reach = np.where((coefficient > 0) == upward, above, below)
    reach = (own_reach.reshape(along) ** 2 * part**2).sum(axis=0)
    for p in np.flatnonzero(coefficient > 0):
        for q in np.flatnonzero(coefficient < 0):
            f = float(fdtri(df[p], df[q], tail if upward else 1 - tail))
            own, other = (above[p], below[q]) if upward else (below[p], above[q])
            reach = reach + ((f - 1) ** 2 - (own * f) ** 2 - other**2) / f * part[p] * -part[q]
    return np.asarray(np.maximum(0.0, reach))
