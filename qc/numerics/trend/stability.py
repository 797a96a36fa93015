"""Is there any change at all? Cumulated residuals against what a steady shop's would do.

OLS-CUSUM: Ploberger & Kraemer (Econometrica 1992). Recursive: Brown, Durbin & Evans (JRSS B 1975).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import kolmogorov, ndtr

from qc.errors import BadInput
from qc.numerics.moments import mean_of, sd_of
from qc.numerics.results import FloatArray
from qc.numerics.series import require_series


@dataclass(frozen=True, eq=False)
class OlsCusum:
    """process[i]: residuals of jobs 0..i summed, over sd sqrt n; back to zero at the end.

    statistic: its largest size, at job `at`; p: chance of one as large without a change.
    """

    process: FloatArray
    statistic: float
    at: int
    p: float


@dataclass(frozen=True, eq=False)
class RecursiveCusum:
    """process: recursive residuals summed, over sd sqrt(n - 1), from 0 before the second job.

    statistic: the largest |process| / (1 + 2 t), t the share of jobs seen; p: as OlsCusum's.
    """

    process: FloatArray
    statistic: float
    p: float


def ols_cusum(x: ArrayLike) -> OlsCusum:
    """x: shape (n,), n >= 3, in cutting order. Raises TooFewReadings, NotFinite, BadInput if all
    readings are alike."""
    values = require_series(x, at_least=3)
    process = np.cumsum(values - mean_of(values)) / (_spread(values) * math.sqrt(values.size))
    at = int(np.argmax(np.abs(process)))
    statistic = float(abs(process[at]))
    return OlsCusum(process, statistic, at, float(kolmogorov(statistic)))


def recursive_residuals(x: ArrayLike) -> FloatArray:
    """(x_i - mean of the i - 1 before) / sqrt(1 + 1/(i - 1)), i = 2..n, shape (n - 1,).

    Independent with the shop's own variance while the mean stays. x: shape (n,), n >= 2.
    """
    values = require_series(x, at_least=2)
    off = values - values[0]
    earlier = np.arange(1, values.size)
    before = np.cumsum(off)[:-1] / earlier
    return np.asarray((off[1:] - before) / np.sqrt(1 + 1 / earlier))


def recursive_cusum(x: ArrayLike) -> RecursiveCusum:
    """x: shape (n,), n >= 3, in cutting order; errors as ols_cusum."""
    w = recursive_residuals(require_series(x, at_least=3))
    process = np.concatenate([[0.0], np.cumsum(w)]) / (_spread(w) * math.sqrt(w.size))
    seen = np.arange(process.size) / w.size
    statistic = float((np.abs(process) / (1 + 2 * seen)).max())
    return RecursiveCusum(process, statistic, _crossing_chance(statistic))


def _crossing_chance(a: float) -> float:
    """Chance that a Wiener process leaves -+ a (1 + 2 t) within 0 <= t <= 1.

    Brown et al. with the paths that cross both lines taken off once. Under 0.3, where that series
    no longer holds, the straight line to certainty at 0.
    """
    if a < 0.3:
        return 1 - (1 - _crossing_chance(0.3)) * a / 0.3
    one_line = ndtr(-3 * a) + math.exp(-4 * a**2) * (ndtr(a) - ndtr(-5 * a))
    return 2 * float(one_line - math.exp(-16 * a**2) * ndtr(-a))


def _spread(values: FloatArray) -> float:
    sd = sd_of(values)
    if sd == 0:
        raise BadInput(why="All readings are alike: the instrument is too coarse to show a change.")
    return sd
