"""Intervals for sums and differences of mean squares: modified large samples.

Graybill & Wang (JASA 1980) for sums, Ting, Burdick, Graybill, Jeyaratnam & Lu (J. Stat. Comput.
Simul. 1990) where a mean square is taken off. Exact for one mean square alone.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.special import chdtri, fdtri

from qc.numerics.capability.indices import Interval, require_confidence
from qc.numerics.results import FloatArray, IntArray


def variance_interval(
    coefficient: FloatArray, ms: FloatArray, df: IntArray, *, confidence: float = 0.95
) -> Interval:
    """Two-sided interval of sum coefficient_i E(MS_i), never under zero.

    All shapes (k,); the mean squares independent and chi-square, as in a balanced study; with
    unequal cells they are nearly so and the interval is approximate.
    """
    tail = (1 - require_confidence(confidence)) / 2
    estimate = float(coefficient @ ms)
    low = estimate - math.sqrt(_squared_reach(coefficient, ms, df, tail, upward=False))
    high = estimate + math.sqrt(_squared_reach(coefficient, ms, df, tail, upward=True))
    return Interval(max(0.0, low), max(0.0, high))


def satterthwaite_df(coefficient: FloatArray, ms: FloatArray, df: IntArray) -> float | None:
    """Degrees of freedom of the sum, None where the sum is not above zero (Satterthwaite 1946)."""
    total = float(coefficient @ ms)
    return total**2 / float(((coefficient * ms) ** 2 / df).sum()) if total > 0 else None


def _squared_reach(
    coefficient: FloatArray, ms: FloatArray, df: IntArray, tail: float, *, upward: bool
) -> float:
    """What the method adds to or takes from the estimate, squared."""
    part = coefficient * ms
    below = 1 - df / chdtri(df, tail)  # how far one mean square's lower bound lies under it
    above = df / chdtri(df, 1 - tail) - 1
    grows = (part > 0) == upward
    reach = float((np.where(grows, above, below) ** 2 * part**2).sum())
    for p in np.flatnonzero(part > 0):
        for q in np.flatnonzero(part < 0):
            f = float(fdtri(df[p], df[q], tail if upward else 1 - tail))
            own, other = (above[p], below[q]) if upward else (below[p], above[q])
            reach += ((f - 1) ** 2 - (own * f) ** 2 - other**2) / f * part[p] * -part[q]
    return max(0.0, reach)
