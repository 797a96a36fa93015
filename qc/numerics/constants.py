"""Control-chart constants for any group size n >= 2, computed and never typed from a table.

With W the range and S the standard deviation (divisor n - 1) of n independent N(0, 1) values:
c4 = E S, d2 = E W, d3 = sd W. The limit factors follow from them (ASTM E2587, ISO 7870-2).
"""

from __future__ import annotations

import math
import operator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import log_ndtr, ndtr

from qc.errors import BadInput, TooFewReadings

D2_OF_TWO = 2.0 / math.sqrt(math.pi)
"""E |a - b| for a, b independent N(0, 1)."""

D4_OF_TWO = math.sqrt(2.0) * 0.6744897501960817
"""Median of |a - b|: sqrt 2 times the upper quartile of N(0, 1)."""

_FAR = 13.0  # beyond this many standard deviations even the largest of 1e12 values does not lie


@dataclass(frozen=True)
class ChartConstants:
    """What charts of groups of n need. Factors multiply a mean range (A2, D3, D4, E2) or a mean
    standard deviation (A3, B3, B4); D3 and B3 are never under zero."""

    n: int
    c4: float
    d2: float
    d3: float
    A2: float
    A3: float
    B3: float
    B4: float
    D3: float
    D4: float
    E2: float


@lru_cache(maxsize=None, typed=True)
def c4(n: int) -> float:
    """Mean of the standard deviation of n values of N(0, 1); relative error under 1e-12."""
    a = (_group_size(n) - 1) / 2
    if a < 200:
        return math.exp(math.lgamma(a + 0.5) - math.lgamma(a)) / math.sqrt(a)
    # Differences of log gammas lose digits here; Gamma(a + 1/2) / Gamma(a) has this expansion.
    b = 1 / a
    return 1 - b * (1 / 8 - b * (1 / 128 + b * (5 / 1024 - b * 21 / 32768)))


@lru_cache(maxsize=None, typed=True)
def d2(n: int) -> float:
    """Mean range of n values of N(0, 1): integral of 1 - Phi^n - (1 - Phi)^n."""
    _group_size(n)
    x, weight = _nodes(-_FAR, _FAR)
    return float(weight @ (-np.expm1(n * log_ndtr(x)) - np.exp(n * log_ndtr(-x))))


@lru_cache(maxsize=None, typed=True)
def d3(n: int) -> float:
    """Standard deviation of the range of n values of N(0, 1).

    E W^2 = 2 * integral of w P(W > w), and P(W <= w) = n * integral of
    phi(x) [Phi(x + w) - Phi(x)]^(n - 1).
    """
    _group_size(n)
    x, weight_x = _nodes(-_FAR, _FAR)
    w, weight_w = _nodes(0.0, 2 * _FAR)
    density = weight_x * n * np.exp(-(x**2) / 2) / math.sqrt(2 * math.pi)
    # Both arms of the difference are taken on the side where Phi is small and keeps its digits.
    low, high = x, x + w[:, None]
    between = np.where(low > 0, ndtr(-low) - ndtr(-high), ndtr(high) - ndtr(low))
    below = between ** (n - 1) @ density
    return math.sqrt(float(weight_w @ (2 * w * (1 - below))) - d2(n) ** 2)


@lru_cache(maxsize=None, typed=True)
def chart_constants(n: int) -> ChartConstants:
    """Every constant for groups of n. Raises TooFewReadings under two, BadInput if not whole."""
    mean_sd, mean_range, sd_range = c4(n), d2(n), d3(n)
    of_sd = 3 * math.sqrt(1 - mean_sd**2) / mean_sd
    of_range = 3 * sd_range / mean_range
    return ChartConstants(
        n=n,
        c4=mean_sd,
        d2=mean_range,
        d3=sd_range,
        A2=3 / (mean_range * math.sqrt(n)),
        A3=3 / (mean_sd * math.sqrt(n)),
        B3=max(0.0, 1 - of_sd),
        B4=1 + of_sd,
        D3=max(0.0, 1 - of_range),
        D4=1 + of_range,
        E2=3 / mean_range,
    )


def _group_size(n: int) -> int:
    try:
        size = operator.index(n)
    except TypeError:
        raise BadInput(why=f"A group size is a whole number; got {n!r}.") from None
    if size < 2:
        raise TooFewReadings(needed=2, got=size)
    return size


@lru_cache(maxsize=None, typed=True)
def _nodes(start: float, stop: float) -> tuple[np.ndarray, np.ndarray]:
    """Gauss-Legendre, 16 points in each half unit: exact to rounding for these integrands."""
    x, weight = np.polynomial.legendre.leggauss(16)
    edges = np.linspace(start, stop, round(2 * (stop - start)) + 1)
    half = np.diff(edges)[:, None] / 2
    centre = (edges[:-1, None] + edges[1:, None]) / 2
    return (centre + half * x).ravel(), (half * weight).ravel()
