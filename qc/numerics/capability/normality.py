"""Does a normal curve fit? Anderson-Darling with mean and standard deviation estimated."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import log_ndtr

from qc.numerics.capability.indices import require_sd
from qc.numerics.moments import mean_of, sd_of
from qc.numerics.series import require_series

FEWEST = 8  # below this the p-value's formula was never fitted


@dataclass(frozen=True)
class Normality:
    """statistic: A-squared. p: chance of one as large from a normal shop. sentence: in words."""

    statistic: float
    p: float
    sentence: str


def normality(x: ArrayLike) -> Normality:
    """Anderson-Darling test of shape.

    x: shape (n,), n >= 8, any order. p by the formula of D'Agostino & Stephens (Goodness-of-Fit
    Techniques, 1986, table 4.9; coefficients from memory, checked against another program).
    Raises TooFewReadings under 8, BadInput when all are alike, NotFinite.
    """
    values = np.sort(require_series(x, at_least=FEWEST))
    z = (values - mean_of(values)) / require_sd(sd_of(values))
    n = z.size
    order = np.arange(1, n + 1)
    a2 = float(-n - ((2 * order - 1) * (log_ndtr(z) + log_ndtr(-z[::-1]))).sum() / n)
    p = _p_value(a2 * (1 + 0.75 / n + 2.25 / n**2))
    return Normality(a2, p, _sentence(p, distinct=np.unique(values).size, n=n))


def _p_value(a: float) -> float:
    if a < 0.2:
        return 1 - math.exp(-13.436 + 101.14 * a - 223.73 * a**2)
    if a < 0.34:
        return 1 - math.exp(-8.318 + 42.796 * a - 59.938 * a**2)
    if a < 0.6:
        return math.exp(0.9177 - 4.279 * a - 1.38 * a**2)
    # Beyond 13 the fitted parabola would turn up again; the p-value there is under 1e-30.
    return math.exp(1.2937 - 5.709 * min(a, 13.0) + 0.0186 * min(a, 13.0) ** 2)


def _sentence(p: float, *, distinct: int, n: int) -> str:
    if p >= 0.05:
        return (
            f"Nothing in these {n} jobs speaks against a normal curve (p = {p:.2f}); that few jobs "
            "agree with one does not prove it."
        )
    if distinct <= max(5, n // 8):
        return (
            f"The readings take only {distinct} different values: the instrument's step is too "
            "coarse to judge the shape."
        )
    return (
        f"A normal curve does not fit these {n} jobs (p = {p:.2g}): take the indices and shares as "
        "rough, and look for two groups, a trend or a stray job."
    )
