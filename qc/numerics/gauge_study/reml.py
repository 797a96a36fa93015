"""Variance components of a gauge study by restricted maximum likelihood (REML).

y = mean + part + operator + part by operator + reading, all random, cells of any size. With each
effect's deviation written as theta times the reading's, theta >= 0, mean and reading variance drop
out of the likelihood (Bates, Maechler, Bolker & Walker, Journal of Statistical Software 2015).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import fmin

from qc.errors import BadInput
from qc.numerics.gauge_study.layout import GaugeReadings
from qc.numerics.results import FloatArray

MOST_RATIO = 1e5


@dataclass(frozen=True)
class RemlComponents:
    """Variances in the readings' unit squared; 0 where the likelihood is highest at the edge."""

    part: float
    operator: float
    interaction: float
    repeatability: float
    log_likelihood: float


def reml_components(readings: GaugeReadings, *, interaction: bool = True) -> RemlComponents:
    """The components with the highest restricted likelihood.

    interaction=False leaves it out. It is left out also when every cell holds one reading, where
    nothing tells it from repeatability. Raises BadInput when the readings are all alike.
    """
    y = readings.value - readings.value[0]
    if not y.any():
        raise BadInput(why="All readings are alike: the instrument is too coarse for this study.")
    numbers = [readings.part, readings.operator]
    if interaction and readings.cell.max() + 1 < y.size:
        numbers.append(readings.cell)
    z = [np.eye(int(number.max()) + 1)[number] for number in numbers]
    profile = _Profile(y / y.std(), z)
    theta = profile.best()
    residual = profile.residual_variance(theta) * float(y.var())
    part, operator, cell = [*(theta**2 * residual).tolist(), 0.0][:3]
    shift = -(y.size - 1) * math.log(y.std())
    return RemlComponents(part, operator, cell, residual, shift - profile.deviance(theta) / 2)


class _Profile:
    """-2 log restricted likelihood of theta, mean and reading variance at their best."""

    def __init__(self, y: FloatArray, z: list[FloatArray]) -> None:
        whole = np.hstack(z)
        self.size, self.free = y.size, y.size - 1
        self.owner = np.repeat(np.arange(len(z)), [one.shape[1] for one in z])
        self.zz = whole.T @ whole
        fixed = np.column_stack([np.ones(y.size), y])
        self.zf, self.ff = whole.T @ fixed, fixed.T @ fixed

    def _reduced(self, theta: FloatArray) -> tuple[float, FloatArray]:
        """log det of I + Lambda Z'Z Lambda, and [1 y]' V^-1 [1 y] with V in reading variances."""
        scale = theta[self.owner]
        root = np.linalg.cholesky(np.eye(scale.size) + scale[:, None] * self.zz * scale)
        half = np.linalg.solve(root, scale[:, None] * self.zf)
        return 2 * float(np.log(np.diag(root)).sum()), self.ff - half.T @ half

    def residual_variance(self, theta: FloatArray) -> float:
        _, f = self._reduced(theta)
        return float(f[1, 1] - f[0, 1] ** 2 / f[0, 0]) / self.free

    def deviance(self, theta: FloatArray) -> float:
        log_det, f = self._reduced(theta)
        variance = max(float(f[1, 1] - f[0, 1] ** 2 / f[0, 0]) / self.free, 1e-300)
        return log_det + math.log(f[0, 0]) + self.free * (1 + math.log(2 * math.pi * variance))

    def best(self) -> FloatArray:
        """The theta of least deviance, by simplex from an even start and again from where it stops;
        then every effect that is as good at zero is put there."""
        theta: FloatArray = np.full(self.owner.max() + 1, 0.5)
        for _ in range(2):
            found = fmin(
                self._folded, theta + 0.02, xtol=1e-8, ftol=1e-12, maxiter=2000, disp=False
            )
            theta = _ratios(np.asarray(found))
        for i in range(theta.size):
            edge = np.where(np.arange(theta.size) == i, 0.0, theta)
            if self.deviance(edge) <= self.deviance(theta) + 1e-9:
                theta = edge
        return theta

    def _folded(self, theta: FloatArray) -> float:
        """The deviance of what the simplex stands for; it may step over zero."""
        return self.deviance(_ratios(theta))


def _ratios(steps: FloatArray) -> FloatArray:
    """Standard deviations over the residual's. Where no repeat ever differs from its fellows there
    is no end to them: one of MOST_RATIO is as good as all of it, and can still be summed up."""
    found: FloatArray = np.minimum(np.abs(steps), MOST_RATIO)
    return found
