"""Gauss-Legendre rules shared by the integral equations of this room."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from qc.numerics.results import FloatArray


def gauss(start: float, stop: float, points: int) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights of `points` on [start, stop]."""
    node, weight = _unit(points)
    half = (stop - start) / 2
    return start + half * (node + 1), half * weight


@lru_cache(maxsize=64)
def _unit(points: int) -> tuple[FloatArray, FloatArray]:
    node, weight = np.polynomial.legendre.leggauss(points)
    node.setflags(write=False)
    weight.setflags(write=False)
    return node, weight
