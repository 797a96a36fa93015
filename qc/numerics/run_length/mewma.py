"""Run length of the multivariate EWMA (MEWMA) in control, and its limit for a wished run length.

The chart: w_i = weight z_i + (1 - weight) w_(i-1) from w_0 = 0, z_i independent N(0, I) in p
dimensions; it signals when |w_i|^2 (2 - weight) / weight > limit (Lowry, Woodall, Champ & Rigdon,
Technometrics 1992, with the covariance of large i). Given r = |w|, the next (|w| / weight)^2 is
noncentral chi-square with p degrees of freedom and noncentrality ((1 - weight) r / weight)^2, so
the run length obeys an integral equation in r alone (Rigdon, J. Stat. Comput. Simul. 1995).
"""

from __future__ import annotations

import math
import operator
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtri, gammaln, ive

from qc.errors import BadInput
from qc.numerics.results import FloatArray
from qc.numerics.run_length.integral import gauss
from qc.numerics.series import require_number


def mewma_arl(limit: float, *, weight: float, dimension: int = 2) -> float:
    """Jobs in control to the first signal, from w = 0. limit > 0, 0 < weight <= 1, dimension >= 1.

    Relative error under 1e-8 where the run length is under 1e6. Raises NotFinite, BadInput.
    """
    limit = require_number(limit, what="The limit", above=0)
    weight = require_number(weight, what="The weight", above=0, at_most=1)
    dimension = _dimension(dimension)
    # s = |w| / weight runs to `edge`; the kernel is about one wide in s.
    edge = math.sqrt(limit / (weight * (2 - weight)))
    node, rule = gauss(0.0, edge, 40 + 8 * math.ceil(edge))
    kernel = _density((1 - weight) * node, node, dimension) * rule
    jobs_left = np.linalg.solve(np.eye(node.size) - kernel, np.ones(node.size))
    return float(1 + (_density(np.zeros(1), node, dimension) * rule @ jobs_left)[0])


@lru_cache(maxsize=256)
def mewma_limit(arl0: float, *, weight: float, dimension: int = 2) -> float:
    """The limit at which the chart signals once in arl0 jobs in control; arl0 > 1."""
    arl0 = require_number(arl0, what="The run length", above=1)

    def excess(limit: float) -> float:
        return math.log(mewma_arl(limit, weight=weight, dimension=dimension) / arl0)

    # A smoother chart never needs a wider limit than single points do.
    highest = float(chdtri(_dimension(dimension), 1 / arl0))
    return float(brentq(excess, 1e-6 * highest, 1.001 * highest, xtol=1e-10))


def limit_for_false_flags(
    flags_per_season: float, jobs_per_season: float, *, weight: float, dimension: int = 2
) -> float:
    """The limit for `flags_per_season` false flags over all fixtures together.

    Each job puts one point on the chart of one fixture, and a chart that starts afresh signals no
    sooner, so ARL0 = jobs a season / flags a season bounds the rate whatever the fixtures' shares.
    """
    flags = require_number(flags_per_season, what="False flags a season", above=0)
    jobs = require_number(jobs_per_season, what="Jobs a season", above=flags)
    return mewma_limit(jobs / flags, weight=weight, dimension=dimension)


def _density(mean: FloatArray, s: FloatArray, dimension: int) -> FloatArray:
    """Density of |z + m| at s for z ~ N(0, I) and |m| = mean; shape (len(mean), len(s))."""
    m = mean[:, None]
    order = dimension / 2 - 1
    with np.errstate(divide="ignore", invalid="ignore"):
        # s (s/m)^order I_order(s m) exp(-(s^2 + m^2)/2), with ive = I exp(-s m).
        away = s * (s / m) ** order * ive(order, s * m) * np.exp(-((s - m) ** 2) / 2)
    log_norm = order * math.log(2) + gammaln(dimension / 2)
    centred = np.exp((dimension - 1) * np.log(s) - s**2 / 2 - log_norm)
    return np.where(s * m > 1e-12, away, centred)


def _dimension(dimension: int) -> int:
    p = operator.index(dimension)
    if p < 1:
        raise BadInput(why=f"A tilt vector has one dimension or more; got {p}.")
    return p
