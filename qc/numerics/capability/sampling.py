"""How far a sample's standard deviation lies from the true one, as nodes to integrate over."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import gammainccinv, gammaincinv, ndtr

from qc.numerics.results import FloatArray
from qc.numerics.run_length.integral import gauss


def sd_ratio(df: float) -> tuple[FloatArray, FloatArray]:
    """Nodes of s / sigma = sqrt(chi-square / df) and their weights, summing to one.

    The chi-square is taken through the normal deviate of its rank, in which it is smooth and nearly
    straight, so that both tails count.
    """
    rank, weight = gauss(-8.2, 8.2, 96)
    weight = weight * np.exp(-(rank**2) / 2) / math.sqrt(2 * math.pi)
    chi2 = 2 * np.where(
        rank < 0, gammaincinv(df / 2, ndtr(rank)), gammainccinv(df / 2, ndtr(-rank))
    )
    return np.sqrt(chi2 / df), weight
