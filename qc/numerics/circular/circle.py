"""The circle nearest to points, measured square to it (Gander, Golub & Strebel, BIT 1994)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import least_squares

from qc.errors import BadInput
from qc.numerics.results import FloatArray
from qc.numerics.series import require_rows


@dataclass(frozen=True, eq=False)
class CircleFit:
    """residual: distance from the centre minus radius, shape (n,); out of round is its range."""

    x: float
    y: float
    radius: float
    residual: FloatArray

    @property
    def out_of_round(self) -> float:
        return float(np.ptp(self.residual))


def fit_circle(points: ArrayLike) -> CircleFit:
    """points: shape (n, 2), n >= 3, not on one line; unit free.

    Starts from the algebraic circle and refines by least squares of the residuals.
    Raises TooFewReadings, NotFinite, BadInput.
    """
    xy = require_rows(points, width=2, what="A point", at_least=3)
    middle = xy.mean(axis=0)
    scale = float(np.abs(xy - middle).max())
    if scale == 0 or np.linalg.matrix_rank((xy - middle) / scale, tol=1e-9) < 2:
        raise BadInput(why="The points lie on one line: no circle is nearest to them.")
    at = (xy - middle) / scale
    design = np.column_stack([2 * at, np.ones(len(at))])
    a, b, c = np.linalg.lstsq(design, (at**2).sum(axis=1), rcond=None)[0]
    start = np.array([a, b, np.sqrt(max(c + a**2 + b**2, 1e-12))])

    def residual(circle: FloatArray) -> FloatArray:
        return np.asarray(np.hypot(*(at - circle[:2]).T) - circle[2])

    found = least_squares(residual, start, xtol=1e-14, ftol=1e-14, gtol=1e-14).x
    return CircleFit(
        x=float(middle[0] + scale * found[0]),
        y=float(middle[1] + scale * found[1]),
        radius=float(scale * found[2]),
        residual=scale * residual(found),
    )
