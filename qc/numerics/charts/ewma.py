"""EWMA chart: an exponentially weighted mean, for movement too slow for single points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.signal import lfilter

from qc.numerics.results import FloatArray
from qc.numerics.series import (
    BoolArray,
    require_number,
    require_series,
    require_starts,
    stretches,
)


@dataclass(frozen=True, eq=False)
class EwmaChart:
    """`z` is the weighted mean after each job, `half_width` the limit's distance from `centre`.

    `signal` marks z strictly outside; with sigma = 0 nothing is marked (instrument too coarse).
    """

    z: FloatArray
    half_width: FloatArray
    signal: BoolArray
    centre: float
    sigma: float
    weight: float
    width: float

    @property
    def lower(self) -> FloatArray:
        return self.centre - self.half_width

    @property
    def upper(self) -> FloatArray:
        return self.centre + self.half_width


def ewma_chart(
    x: ArrayLike,
    *,
    centre: float,
    sigma: float,
    weight: float = 0.2,
    width: float = 3.0,
    steady_limits: bool = False,
    stretch_start: ArrayLike | None = None,
) -> EwmaChart:
    """z_i = weight x_i + (1 - weight) z_(i-1), from z_0 = centre at each stretch start.

    x: shape (n,), in cutting order. centre, sigma: frozen or estimated elsewhere, in x's unit;
        sigma >= 0 is the standard deviation of one x.
    weight: the newest job's share, above 0 and at most 1. width: the limit in standard deviations
        of z, chosen for a false-alarm rate by `run_length.ewma_width`.
    Limits: width sigma sqrt(weight / (2 - weight) (1 - (1 - weight)^(2 i))), i counting jobs in
        the stretch; steady_limits uses their limit for large i (NIST/SEMATECH e-Handbook 6.3.2.4).
    Raises NotFinite, BadInput.
    """
    values = require_series(x)
    starts = require_starts(stretch_start, values.size)
    centre = require_number(centre, what="The centre")
    sigma = require_number(sigma, what="Sigma", above=-1e-300)
    weight = require_number(weight, what="The weight", above=0, at_most=1)
    width = require_number(width, what="The width", above=0)
    z = np.empty(values.size)
    jobs_in_stretch = np.empty(values.size)
    for part in stretches(starts):
        z[part] = weighted_mean(values[part], weight=weight, before=centre)
        jobs_in_stretch[part] = np.arange(1, part.stop - part.start + 1)
    share = np.ones(values.size) if steady_limits else ewma_variance_share(weight, jobs_in_stretch)
    half_width = width * sigma * np.sqrt(weight / (2 - weight) * share)
    return EwmaChart(
        z=z,
        half_width=half_width,
        signal=(np.abs(z - centre) > half_width) & (sigma > 0),
        centre=centre,
        sigma=sigma,
        weight=weight,
        width=width,
    )


def ewma_variance_share(weight: float, jobs: FloatArray) -> FloatArray:
    """Variance of z after `jobs` jobs over its variance in the long run: 1 - (1 - weight)^(2 i)."""
    return np.asarray(1 - (1 - weight) ** (2 * jobs))


def weighted_mean(values: FloatArray, *, weight: float, before: float) -> FloatArray:
    """z_i = weight x_i + (1 - weight) z_(i-1) along axis 0, with z before the first = before.

    Taking up a sequence where an earlier call left off gives the same bits as one call.
    """
    carry = np.full((1, *values.shape[1:]), (1 - weight) * before)
    smooth, _ = lfilter([weight], [1.0, weight - 1.0], values, axis=0, zi=carry)
    return np.asarray(smooth, dtype=np.float64)
