"""How far a sample's standard deviation lies from the true one, as nodes to integrate over."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import gammainc, gammaincc, gammainccinv, gammaincinv, ndtr, ndtri

from qc.numerics.results import FloatArray
from qc.numerics.run_length.integral import gauss

_FAR = 8.2  # normal deviates beyond which nothing lies


def sd_ratio(df: float, *, above: float = 0.0) -> tuple[FloatArray, FloatArray]:
    """Nodes of s / sigma = sqrt(chi-square / df) beyond `above` and their weights, which sum to the
    chance of a ratio beyond it.

    The chi-square is taken through the normal deviate of its rank, in which it is smooth and nearly
    straight, so that both tails count.
    """
    chi2_above = df * above**2
    lowest = _deviate(float(gammainc(df / 2, chi2_above / 2)), chi2_above, df)
    rank, weight = gauss(lowest, _FAR, 96)
    weight = weight * np.exp(-(rank**2) / 2) / math.sqrt(2 * math.pi)
    chi2 = 2 * np.where(
        rank < 0, gammaincinv(df / 2, ndtr(rank)), gammainccinv(df / 2, ndtr(-rank))
    )
    return np.sqrt(chi2 / df), weight


def _deviate(below: float, chi2: float, df: float) -> float:
    """The normal deviate of the same rank, no farther than _FAR."""
    rank = ndtri(below) if below < 0.5 else -ndtri(gammaincc(df / 2, chi2 / 2))
    return min(max(float(rank), -_FAR), _FAR)
