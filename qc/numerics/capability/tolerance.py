"""Statistical tolerance intervals of a normal shop: mean -+ k sd holds a stated share of all jobs
with a stated confidence (ISO 16269-6, mean and standard deviation unknown)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtr, chdtri, chndtrix, nctdtrit, ndtri

from qc.errors import BadInput
from qc.numerics.capability.indices import require_confidence, require_sd
from qc.numerics.run_length.integral import gauss
from qc.numerics.series import require_number


@dataclass(frozen=True)
class ToleranceInterval:
    """low..high holds at least `coverage` of all jobs with `confidence`."""

    low: float
    high: float
    factor: float
    coverage: float
    confidence: float


@lru_cache(maxsize=256)
def two_sided_factor(n: int, *, coverage: float = 0.95, confidence: float = 0.95) -> float:
    """The exact k, by integration over where the sample mean may lie; relative error under 1e-8.

    With z the mean's error in standard errors, mean -+ r sd covers the share exactly when r^2 is
    the noncentral chi-square quantile with one degree of freedom and noncentrality z^2 / n; k is
    such that k s >= r(z) sigma with the stated chance.
    """
    n, coverage, confidence = _settings(n, coverage, confidence)
    z, weight = gauss(0.0, 9.0, 128)
    weight = weight * 2 * np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi)
    reach2 = chndtrix(coverage, 1, z**2 / n)

    def excess(log_k: float) -> float:
        short = chdtr(n - 1, (n - 1) * reach2 * math.exp(-2 * log_k))
        return confidence - float(weight @ (1 - short))

    guess = math.log(howe_factor(n, coverage=coverage, confidence=confidence))
    return math.exp(brentq(excess, guess - 1, guess + 1, xtol=1e-13))


def howe_factor(n: int, *, coverage: float = 0.95, confidence: float = 0.95) -> float:
    """Howe's approximation of the two-sided k (JASA 1969), as in many printed tables."""
    n, coverage, confidence = _settings(n, coverage, confidence)
    u = float(ndtri((1 + coverage) / 2)) * math.sqrt(1 + 1 / n)
    return u * math.sqrt((n - 1) / float(chdtri(n - 1, confidence)))


def one_sided_factor(n: int, *, coverage: float = 0.95, confidence: float = 0.95) -> float:
    """The exact k for one limit: a noncentral t quantile over sqrt n."""
    n, coverage, confidence = _settings(n, coverage, confidence)
    shift = float(ndtri(coverage)) * math.sqrt(n)
    return float(nctdtrit(n - 1, shift, confidence)) / math.sqrt(n)


def tolerance_interval(
    *, mean: float, sd: float, n: int, coverage: float = 0.95, confidence: float = 0.95
) -> ToleranceInterval:
    """mean -+ two_sided_factor sd, in the unit of mean and sd. Raises NotFinite, BadInput."""
    mean, sd = require_number(mean, what="The mean"), require_sd(sd)
    k = two_sided_factor(n, coverage=coverage, confidence=confidence)
    return ToleranceInterval(mean - k * sd, mean + k * sd, k, coverage, confidence)


def _settings(n: int, coverage: float, confidence: float) -> tuple[int, float, float]:
    if n < 2:
        raise BadInput(why=f"A tolerance interval needs two readings or more; got {n}.")
    if not 0 < coverage < 1:
        raise BadInput(why=f"The coverage must be between 0 and 1; got {coverage:g}.")
    return n, coverage, require_confidence(confidence)
