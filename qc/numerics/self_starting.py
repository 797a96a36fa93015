"""Charts for the first jobs, when nothing is known of the shop yet.

Each reading is judged against the readings before it alone and turned into Q, which in control is
standard normal and independent from the first value on (Quesenberry, Journal of Quality Technology
23, 1991; Hawkins, The Statistician 1987). Q is NaN where it is undefined: before there is anything
to compare with, or when all earlier readings are alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtr, fdtrc, ndtri, stdtr

from qc.numerics.charts.cusum import CusumChart, cusum_of_deviations
from qc.numerics.results import FloatArray, IntArray
from qc.numerics.series import require_number, require_series, require_starts, stretches


@dataclass(frozen=True, eq=False)
class SelfStartingCusum:
    """q: as q_statistics. chart: the CUSUM of q, in sigma; an undefined q leaves it alone."""

    q: FloatArray
    chart: CusumChart


def q_statistics(
    x: ArrayLike, *, mean: float | None = None, sigma: float | None = None
) -> FloatArray:
    """Q of each reading against those before it, shape (n,).

    x: shape (n,), in cutting order. mean, sigma: what is known beforehand, None what is not.
    With r - 1 earlier readings, their mean m and standard deviation s (divisor r - 2):
        neither known: PhiInv T_(r-2)(sqrt((r-1)/r) (x_r - m) / s), from the third reading on;
        sigma known:   sqrt((r-1)/r) (x_r - m) / sigma, from the second on;
        mean known:    PhiInv T_(r-1)((x_r - mean) / s0), s0^2 the mean square about the known mean
                       of the earlier readings, from the second on;
        both known:    (x_r - mean) / sigma.
    Raises NotFinite, BadInput, TooFewReadings.
    """
    values = require_series(x)
    if mean is not None:
        off = values - require_number(mean, what="The mean")
        if sigma is not None:
            return off / require_number(sigma, what="Sigma", above=0)
        return _q_known_mean(off)
    earlier = np.arange(values.size)  # how many came before
    before, squares = _running(values)
    gap = np.sqrt(earlier / (earlier + 1)) * (values - before)
    if sigma is not None:
        known = gap / require_number(sigma, what="Sigma", above=0)
        return np.where(earlier >= 1, known, np.nan)
    df = earlier - 1
    return _q_of_t(gap, np.sqrt(squares / np.maximum(df, 1)), df)


def q_dispersion(x: ArrayLike) -> FloatArray:
    """Q of the spread, one for each pair (x1, x2), (x3, x4), ..., shape (n // 2,).

    The squared difference of a pair against the mean of those before it, through F(1, j - 1), from
    the second pair on; high when readings scatter more than before. An odd last reading waits.
    """
    values = require_series(x, at_least=2)
    pairs = values[: values.size // 2 * 2].reshape(-1, 2)
    square = np.diff(pairs, axis=1)[:, 0] ** 2
    earlier = np.arange(square.size)
    total = np.concatenate([[0.0], np.cumsum(square)[:-1]])
    with np.errstate(divide="ignore", invalid="ignore"):
        f = square * earlier / total
    df = np.maximum(earlier, 1)
    q = _normal_score(fdtr(1, df, f), fdtrc(1, df, f))
    return np.where((earlier >= 1) & (total > 0), q, np.nan)


def self_starting_cusum(
    x: ArrayLike,
    *,
    k: float = 0.5,
    h: float = 5.0,
    head_start: float = 0.0,
    stretch_start: ArrayLike | None = None,
) -> SelfStartingCusum:
    """CUSUM of Q with neither mean nor sigma known; k, h, head_start in sigma.

    stretch_start: shape (n,) bool; Q and the sums begin again at each one, as if nothing came
        before. Raises NotFinite, BadInput, TooFewReadings.
    """
    values = require_series(x)
    starts = require_starts(stretch_start, values.size)
    q = np.concatenate([q_statistics(values[part]) for part in stretches(starts)])
    chart = cusum_of_deviations(
        q,
        allowance=require_number(k, what="The allowance k", above=-1e-300),
        decision=require_number(h, what="The decision interval h", above=0),
        head=require_number(head_start, what="The head start", above=-1e-300, at_most=h),
        starts=starts,
    )
    return SelfStartingCusum(q=q, chart=chart)


def _q_known_mean(off: FloatArray) -> FloatArray:
    df = np.arange(off.size)
    squares = np.concatenate([[0.0], np.cumsum(off**2)[:-1]])
    return _q_of_t(off, np.sqrt(squares / np.maximum(df, 1)), df)


def _q_of_t(gap: FloatArray, s: FloatArray, df: IntArray) -> FloatArray:
    """PhiInv T_df(gap / s), NaN where df < 1 or s = 0."""
    defined = (df >= 1) & (s > 0)
    t = gap / np.where(defined, s, 1.0)
    freedom = np.maximum(df, 1)
    return np.where(defined, _normal_score(stdtr(freedom, t), stdtr(freedom, -t)), np.nan)


def _normal_score(below: FloatArray, above: FloatArray) -> FloatArray:
    """The normal deviate with these two tails, from the smaller, which keeps its digits.

    A tail too small for a double counts as the smallest double: 38.4 sigma, never infinity.
    """
    tail = np.maximum(np.minimum(below, above), np.nextafter(0.0, 1.0))
    return np.asarray(np.where(below < above, 1.0, -1.0) * ndtri(tail))


def _running(values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean of the readings before each, and their sum of squares about it (Welford 1962).

    Sums that are only what rounding makes of equal readings are 0.
    """
    mean, squares = 0.0, 0.0
    means, sums = np.empty(values.size), np.empty(values.size)
    largest = np.maximum.accumulate(np.abs(values))
    noise = (16 * np.finfo(float).eps * largest) ** 2
    for job, reading in enumerate(values.tolist()):
        means[job], sums[job] = mean, squares
        step = reading - mean
        mean += step / (job + 1)
        squares += step * (reading - mean) if job else 0.0
    sums[1:][sums[1:] <= noise[:-1] * np.arange(1, values.size)] = 0.0
    return means, sums
