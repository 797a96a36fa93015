"""Is the mean of vectors where it should be? Hotelling's one-sample T-squared."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtrc, fdtri

from qc.errors import BadInput, TooFewReadings
from qc.numerics.capability.indices import require_confidence
from qc.numerics.results import FloatArray
from qc.numerics.series import require_rows


@dataclass(frozen=True, eq=False)
class MeanVector:
    """t2: n (mean - centre)' S^-1 (mean - centre). f: t2 (n - p) / (p (n - 1)), with df (p, n - p)
    and upper tail `p`. t2_limit: t2's quantile at the confidence asked. covariance has divisor
    n - 1."""

    n: int
    mean: FloatArray
    covariance: FloatArray
    t2: float
    f: float
    df: tuple[int, int]
    p: float
    t2_limit: float


def mean_vector(
    vectors: ArrayLike, *, centre: ArrayLike | None = None, confidence: float = 0.95
) -> MeanVector:
    """vectors: shape (n, p), n > p. centre: shape (p,), the mean under test, None for zero.

    Raises TooFewReadings for n <= p, BadInput when the vectors lie on one line (their covariance is
    singular), NotFinite.
    """
    rows = require_rows(vectors, what="A vector")
    n, p = rows.shape
    if n <= p:
        raise TooFewReadings(needed=p + 1, got=n)
    middle = np.zeros(p) if centre is None else require_rows(np.atleast_2d(centre), width=p)[0]
    mean = rows[0] + (rows - rows[0]).mean(axis=0)
    off = rows - mean
    covariance = off.T @ off / (n - 1)
    scale = np.sqrt(np.diag(covariance))
    if (scale == 0).any() or np.linalg.cond(covariance / np.outer(scale, scale)) > 1e12:
        raise BadInput(why="The vectors lie on one line, so their scatter cannot judge the mean.")
    gap = mean - middle
    t2 = n * float(gap @ np.linalg.solve(covariance, gap))
    to_f = (n - p) / (p * (n - 1))
    return MeanVector(
        n=n,
        mean=mean,
        covariance=covariance,
        t2=t2,
        f=t2 * to_f,
        df=(p, n - p),
        p=float(fdtrc(p, n - p, t2 * to_f)),
        t2_limit=float(fdtri(p, n - p, require_confidence(confidence))) / to_f,
    )
