"""Directions without lengths: their mean, how closely they agree, and whether that is chance.

Zar, Biostatistical Analysis; Mardia & Jupp, Directional Statistics. Angles are clock positions in
degrees; whichever way the clock runs, all must run alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import j0, j1, ndtr

from qc.errors import BadInput
from qc.numerics.results import FloatArray
from qc.numerics.run_length.integral import gauss
from qc.numerics.series import require_number, require_series
from qc.numerics.tilt import direction_deg

LEAST_EXACT_P = 1e-6
_BALANCED = 1e-12  # a resultant this small a share of n is rounding and points nowhere


@dataclass(frozen=True)
class Directions:
    """cos_sum, sin_sum, resultant: of n unit vectors. mean_resultant: resultant / n, 1 when all
    agree. mean_deg: None when they balance out. variance: 1 - mean_resultant. sd_rad:
    sqrt(-2 ln mean_resultant), infinite when they balance.

    rayleigh_z: n mean_resultant^2. p_series, p_wilkie: two approximations of its p-value for a
    circle without a preferred direction; the first can fall under zero and is then 0.
    """

    n: int
    cos_sum: float
    sin_sum: float
    resultant: float
    mean_resultant: float
    mean_deg: float | None
    variance: float
    sd_rad: float
    rayleigh_z: float
    p_series: float
    p_wilkie: float


@dataclass(frozen=True)
class VTest:
    """v: part of the resultant along the expected direction. u: v sqrt(2 / n), nearly normal
    without a preferred direction; p: its upper tail."""

    v: float
    u: float
    p: float


def directions(angle_deg: ArrayLike) -> Directions:
    """angle_deg: shape (n,), n >= 1. Raises TooFewReadings, NotFinite, BadInput."""
    angle = np.radians(require_series(angle_deg, what="A direction"))
    n = angle.size
    c, s = float(np.cos(angle).sum()), float(np.sin(angle).sum())
    resultant = math.hypot(c, s)
    share = min(1.0, resultant / n)
    balanced = share < _BALANCED
    z = n * share**2
    return Directions(
        n=n,
        cos_sum=c,
        sin_sum=s,
        resultant=resultant,
        mean_resultant=share,
        mean_deg=None if balanced else direction_deg(c, s),
        variance=1 - share,
        sd_rad=math.inf if balanced else math.sqrt(-2 * math.log(share)),
        rayleigh_z=z,
        p_series=_p_series(z, n),
        p_wilkie=math.exp(math.sqrt(1 + 4 * n + 4 * n**2 * (1 - share**2)) - (1 + 2 * n)),
    )


def rayleigh_p_exact(angle_deg: ArrayLike) -> float | None:
    """Chance that n directions drawn evenly round the circle have a resultant as long.

    angle_deg: shape (n,), n >= 2. None under 1e-6, where no decision hangs on the figure.
    Kluyver's integral, 1 - R * integral of J0(t)^n J1(R t); absolute error under 1e-6 for n = 3
    and far less above; two directions have a closed form.
    """
    found = directions(require_series(angle_deg, what="A direction", at_least=2))
    n, resultant = found.n, found.resultant
    if n == 2:
        p = 2 / math.pi * math.acos(min(1.0, resultant / 2))
    else:
        t, weight = _long_rule(n)
        p = 1 - resultant * float(weight @ (j0(t) ** n * j1(resultant * t)))
    return min(p, 1.0) if p >= LEAST_EXACT_P else None


def v_test(angle_deg: ArrayLike, *, expected_deg: float) -> VTest:
    """Do the directions cluster about one named beforehand? Raises as directions."""
    found = directions(angle_deg)
    toward = math.radians(require_number(expected_deg, what="The expected direction"))
    v = found.cos_sum * math.cos(toward) + found.sin_sum * math.sin(toward)
    u = v * math.sqrt(2 / found.n)
    return VTest(v, u, float(ndtr(-u)))


def _p_series(z: float, n: int) -> float:
    first = (2 * z - z**2) / (4 * n)
    second = (24 * z - 132 * z**2 + 76 * z**3 - 9 * z**4) / (288 * n**2)
    return min(1.0, max(0.0, math.exp(-z) * (1 + first - second)))


def _long_rule(n: int) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights as far out as J0^n J1 still counts; it falls like t^(-(n + 1) / 2)."""
    if n > 10_000:
        raise BadInput(
            why="Above 10 000 directions use the Wilkie approximation; it is exact there."
        )
    far = min(2000.0, max(20.0, 1e14 ** (2 / (n + 1))))
    node, weight = gauss(-1.0, 1.0, 8)
    half = 0.0025 if n > 100 else 0.01
    centre = np.arange(half, far, 2 * half)
    return (centre[:, None] + half * node).ravel(), np.tile(half * weight, centre.size)
