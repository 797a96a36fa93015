"""Mean, spread, lag-1 correlation and the one-way table, keeping their digits far from zero."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtrc

from qc.errors import BadInput, TooFewReadings
from qc.numerics.results import FloatArray
from qc.numerics.series import require_series


@dataclass(frozen=True)
class Moments:
    """Of n readings: sd has divisor n - 1. lag1 is the correlation of neighbours about the common
    mean, None when all readings are alike."""

    n: int
    mean: float
    sd: float
    lag1: float | None


@dataclass(frozen=True)
class OneWay:
    """Between and within groups. f, p, r2 are None when they divide by zero.

    var_between: the component between groups, (MS between - MS within) / n0, never under zero;
    n0 is the group size, or for unequal groups the one that makes this unbiased.
    """

    ss_between: float
    df_between: int
    ms_between: float
    ss_within: float
    df_within: int
    ms_within: float
    f: float | None
    p: float | None
    r2: float | None
    sd_within: float
    var_between: float


def mean_of(x: FloatArray) -> float:
    """The mean, taken from the first reading: equal readings have exactly themselves as mean."""
    return float(x[0] + (x - x[0]).mean())


def sd_of(x: FloatArray) -> float:
    """Standard deviation with divisor n - 1; 0 when only rounding tells the readings apart."""
    return without_rounding_noise(math.sqrt(_squares_about_mean(x) / (x.size - 1)), x)


def without_rounding_noise(sigma: float, x: FloatArray) -> float:
    """0 if sigma is no more than what storing x as doubles makes, else sigma."""
    return 0.0 if sigma <= 16 * np.finfo(float).eps * float(np.abs(x).max()) else sigma


def moments(x: ArrayLike) -> Moments:
    """x: shape (n,), n >= 2, in cutting order. Raises TooFewReadings, NotFinite, BadInput."""
    values = require_series(x, at_least=2)
    off = values - values[0]
    off = off - off.mean()
    sd = sd_of(values)
    lag1 = float(off[:-1] @ off[1:]) / float(off @ off) if sd > 0 else None
    return Moments(n=values.size, mean=mean_of(values), sd=sd, lag1=lag1)


def one_way(groups: Sequence[ArrayLike]) -> OneWay:
    """Analysis of variance of readings in groups, sizes equal or not.

    groups: two or more, each shape (n_i,), n_i >= 1, together more readings than groups.
    Sums of squares are taken about the first reading, so that they keep their digits when the
    readings are large and nearly alike (NIST StRD one-way sets).
    Raises TooFewReadings, NotFinite, BadInput.
    """
    if len(groups) < 2:
        raise BadInput(why=f"Comparing groups needs two or more; got {len(groups)}.")
    rows = [require_series(group) for group in groups]
    sizes = np.array([row.size for row in rows])
    total, k = int(sizes.sum()), len(rows)
    if total == k:
        raise TooFewReadings(needed=k + 1, got=total)
    pivot = rows[0][0]
    means = np.array([(row - pivot).mean() for row in rows])
    grand = float(sizes @ means) / total
    ss_between = float(sizes @ (means - grand) ** 2)
    ss_within = math.fsum(_squares_about_mean(row) for row in rows)
    df_between, df_within = k - 1, total - k
    ms_between, ms_within = ss_between / df_between, ss_within / df_within
    f = ms_between / ms_within if ms_within > 0 else None
    n0 = (total - float((sizes**2).sum()) / total) / df_between
    whole = ss_between + ss_within
    return OneWay(
        ss_between=ss_between,
        df_between=df_between,
        ms_between=ms_between,
        ss_within=ss_within,
        df_within=df_within,
        ms_within=ms_within,
        f=f,
        p=None if f is None else float(fdtrc(df_between, df_within, f)),
        r2=ss_between / whole if whole > 0 else None,
        sd_within=math.sqrt(ms_within),
        var_between=max(0.0, (ms_between - ms_within) / n0),
    )


def _squares_about_mean(x: FloatArray) -> float:
    off = x - x[0]
    off = off - off.mean()
    # The second term takes out what rounding of the mean leaves (Chan, Golub & LeVeque 1983).
    return max(0.0, float(off @ off) - float(off.sum()) ** 2 / x.size)
