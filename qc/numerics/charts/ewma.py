"""EWMA chart: an exponentially weighted mean, for movement too slow for single points."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import ArrayLike

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
    widening: the half widths of the first jobs of each stretch, whose last holds for all after.
    """

    z: FloatArray
    signal: BoolArray
    centre: float
    sigma: float
    weight: float
    width: float
    widening: FloatArray
    stretches: tuple[slice, ...]

    @cached_property
    def half_width(self) -> FloatArray:
        half_width = np.full(self.z.size, self.widening[-1])
        for part in self.stretches:
            early = half_width[part][: self.widening.size]
            early[:] = self.widening[: early.size]
        return half_width

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
    widening = ewma_half_widths(sigma=sigma, weight=weight, width=width)
    if steady_limits:
        widening = widening[-1:]
    parts = stretches(starts)
    means = [weighted_mean(values[part], weight=weight, before=centre) for part in parts]
    z = means[0] if len(means) == 1 else np.concatenate(means)
    return EwmaChart(
        z=z,
        signal=_outside(z, centre, widening, parts) & (sigma > 0),
        centre=centre,
        sigma=sigma,
        weight=weight,
        width=width,
        widening=widening,
        stretches=tuple(parts),
    )


def _outside(z: FloatArray, centre: float, widening: FloatArray, parts: list[slice]) -> BoolArray:
    """|z - centre| beyond its half width, in blocks that stay in the cache."""
    outside = np.empty(z.size, dtype=np.bool_)
    for start in range(0, z.size, 32_768):
        block = slice(start, start + 32_768)
        np.greater(np.abs(z[block] - centre), widening[-1], out=outside[block])
    for part in parts:
        early = z[part][: widening.size]
        outside[part][: early.size] = np.abs(early - centre) > widening[: early.size]
    return outside


@lru_cache(maxsize=64)
def ewma_half_widths(*, sigma: float, weight: float, width: float) -> FloatArray:
    """Distance of the limits from the centre after 1, 2, ... jobs of a stretch, as far as they
    widen; the last entry holds for every job after."""
    # Beyond this many jobs the share still missing is under half the last bit.
    settled = 1 if weight == 1 else math.ceil(-37 / (2 * math.log1p(-weight)))
    share = ewma_variance_share(weight, np.arange(1.0, settled + 1))
    widths: FloatArray = width * sigma * np.sqrt(weight / (2 - weight) * share)
    widths.setflags(write=False)
    return widths


def ewma_variance_share(weight: float, jobs: FloatArray) -> FloatArray:
    """Variance of z after `jobs` jobs over its variance in the long run: 1 - (1 - weight)^(2 i)."""
    return np.asarray(1 - (1 - weight) ** (2 * jobs))


def weighted_mean(values: FloatArray, *, weight: float, before: float | FloatArray) -> FloatArray:
    """z_i = weight x_i + (1 - weight) z_(i-1) along axis 0, with z before the first = before.

    Taking up a sequence where an earlier call left off gives the same bits as one call.
    """
    # Importing scipy.signal takes 2 s, which every start of the service would pay at the top.
    from scipy.signal import lfilter  # noqa: PLC0415

    carry = np.broadcast_to((1 - weight) * np.asarray(before), (1, *values.shape[1:]))
    smooth, _ = lfilter([weight], [1.0, weight - 1.0], values, axis=0, zi=carry)
    return np.asarray(smooth, dtype=np.float64)
