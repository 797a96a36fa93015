"""Multivariate EWMA of several numbers a job, for a shift in any direction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qc.errors import BadInput
from qc.numerics.charts.ewma import ewma_variance_share, weighted_mean
from qc.numerics.results import FloatArray
from qc.numerics.series import (
    BoolArray,
    require_number,
    require_rows,
    require_starts,
    stretches,
)


@dataclass(frozen=True, eq=False)
class MewmaChart:
    """mean: the weighted mean after each job, shape (n, p). statistic: its squared distance from
    the centre in its own covariance, to be held against `limit`; signal marks those above."""

    mean: FloatArray
    statistic: FloatArray
    signal: BoolArray
    limit: float


def mewma_chart(
    x: ArrayLike,
    *,
    centre: ArrayLike,
    covariance: ArrayLike,
    limit: float,
    weight: float = 0.1,
    steady_covariance: bool = True,
    stretch_start: ArrayLike | None = None,
) -> MewmaChart:
    """w_i = weight (x_i - centre) + (1 - weight) w_(i-1), statistic w' S^-1 w.

    x: shape (n, p), in cutting order. centre: (p,). covariance: (p, p), of one x.
    S = weight / (2 - weight) covariance, the limit of large i, for which run_length.mewma_limit is
    exact; steady_covariance=False uses the covariance of w_i itself and signals sooner at the start
    (Lowry, Woodall, Champ & Rigdon 1992). weight 1 is Hotelling's T-squared of single jobs.
    Raises NotFinite, BadInput, TooFewReadings.
    """
    rows = require_rows(x)
    p = rows.shape[1]
    middle = require_rows(np.atleast_2d(centre), width=p, what="The centre")[0]
    spread = require_rows(covariance, width=p, what="The covariance", at_least=p)
    limit = require_number(limit, what="The limit", above=0)
    weight = require_number(weight, what="The weight", above=0, at_most=1)
    starts = require_starts(stretch_start, len(rows))
    whitened = np.linalg.solve(_root(spread), (rows - middle).T).T
    smooth = np.empty_like(rows)
    share = np.ones(len(rows))
    for part in stretches(starts):
        smooth[part] = weighted_mean(whitened[part], weight=weight, before=0.0)
        if not steady_covariance:
            jobs = np.arange(1.0, part.stop - part.start + 1)
            share[part] = ewma_variance_share(weight, jobs)
    statistic = (smooth**2).sum(axis=1) * (2 - weight) / (weight * share)
    return MewmaChart(
        mean=middle + smooth @ _root(spread).T,
        statistic=statistic,
        signal=statistic > limit,
        limit=limit,
    )


def _root(covariance: FloatArray) -> FloatArray:
    try:
        return np.asarray(np.linalg.cholesky(covariance))
    except np.linalg.LinAlgError:
        raise BadInput(
            why="The covariance is singular: leave out the number that follows from the others."
        ) from None
