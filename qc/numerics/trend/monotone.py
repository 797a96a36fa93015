"""Is there a drift, and how steep? By ranks and medians, so that stray jobs count little.

Mann (Econometrica 1945), Kendall, Theil (1950), Sen (JASA 1968).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from qc.errors import BadInput
from qc.numerics.capability.indices import Interval, require_confidence
from qc.numerics.checks import require_same_length
from qc.numerics.results import FloatArray
from qc.numerics.series import require_series


@dataclass(frozen=True)
class MannKendall:
    """s: pairs that rise minus pairs that fall. variance: of s without drift, ties allowed for.

    z: s brought one nearer to zero (continuity) in standard deviations; p two-sided, normal; tau_b:
    s over the most it could be. All None when every reading is alike.
    """

    s: int
    variance: float
    z: float | None
    p: float | None
    tau_b: float | None


@dataclass(frozen=True)
class TheilSen:
    """slope: median over pairs of rise over run. intercept: median x - slope x median time."""

    slope: float
    intercept: float
    slope_interval: Interval


def mann_kendall(x: ArrayLike, *, time: ArrayLike | None = None) -> MannKendall:
    """x: shape (n,), n >= 2. time: shape (n,), any unit and order; None counts jobs from 0.

    Neighbours must be independent: a slow wander makes p too small. Pairs of equal time count as
    ties. The normal p is near enough from n = 10; under that take it as rough.
    Raises TooFewReadings, NotFinite, BadInput.
    """
    values, when = _series(x, time)
    rises = np.sign(values - values[:, None]) * np.sign(when - when[:, None])
    s = int(np.triu(rises, 1).sum())
    variance = _variance_of_s(values, when)
    pairs = values.size * (values.size - 1) / 2
    free_pairs = math.sqrt((pairs - _tied_pairs(values)) * (pairs - _tied_pairs(when)))
    if variance <= 0 or free_pairs == 0:
        return MannKendall(s, variance, None, None, None)
    z = (s - np.sign(s)) / math.sqrt(variance)
    return MannKendall(s, variance, float(z), 2 * float(ndtr(-abs(z))), s / free_pairs)


def theil_sen(x: ArrayLike, *, time: ArrayLike | None = None, confidence: float = 0.95) -> TheilSen:
    """Slope in x's unit a unit of time, with Sen's interval from the ranks of the pair slopes.

    Arguments and errors as mann_kendall; BadInput too if all times are equal.
    """
    values, when = _series(x, time)
    first, last = np.triu_indices(values.size, 1)
    run = when[last] - when[first]
    apart = run != 0
    if not apart.any():
        raise BadInput(why="A slope needs readings at two times or more.")
    slopes = np.sort((values[last] - values[first])[apart] / run[apart])
    slope = float(np.median(slopes))
    half = float(ndtri((1 + require_confidence(confidence)) / 2)) * math.sqrt(
        max(0.0, _variance_of_s(values, when))
    )
    low = max(round((slopes.size - half) / 2) - 1, 0)
    high = min(round((slopes.size + half) / 2), slopes.size - 1)
    return TheilSen(
        slope=slope,
        intercept=float(np.median(values) - slope * np.median(when)),
        slope_interval=Interval(float(slopes[low]), float(slopes[high])),
    )


def _series(x: ArrayLike, time: ArrayLike | None) -> tuple[FloatArray, FloatArray]:
    values = require_series(x, at_least=2)
    when = np.arange(float(values.size)) if time is None else require_series(time, what="A time")
    require_same_length(readings=values, times=when)
    return values, when


def _variance_of_s(values: FloatArray, when: FloatArray) -> float:
    """Kendall's variance with ties in both (Rank Correlation Methods, 1970, chapter 4)."""
    n = values.size
    t, u = _tie_counts(values), _tie_counts(when)

    def third(k: FloatArray) -> float:
        return float((k * (k - 1) * (2 * k + 5)).sum())

    def second(k: FloatArray) -> float:
        return float((k * (k - 1) * (k - 2)).sum())

    variance = (third(np.array([float(n)])) - third(t) - third(u)) / 18
    if n > 2:
        variance += second(t) * second(u) / (9 * n * (n - 1) * (n - 2))
    return variance + 4 * _tied_pairs(values) * _tied_pairs(when) / (2 * n * (n - 1))


def _tie_counts(x: FloatArray) -> FloatArray:
    return np.unique(x, return_counts=True)[1].astype(np.float64)


def _tied_pairs(x: FloatArray) -> float:
    k = _tie_counts(x)
    return float((k * (k - 1)).sum()) / 2
