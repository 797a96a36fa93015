"""The share of jobs out of tolerance, from few readings, with an interval."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from qc.errors import BadInput
from qc.numerics.capability.indices import (
    Interval,
    require_confidence,
    require_limits,
    require_sd,
)
from qc.numerics.capability.sampling import sd_ratio
from qc.numerics.results import FloatArray
from qc.numerics.run_length.integral import gauss
from qc.numerics.series import require_number

_NONE = 1e-15  # a share that counts as none
_NEARER = 2.5  # standard errors by which the true mean may well be nearer to the middle


@dataclass(frozen=True)
class OutOfTolerance:
    """Shares, 0 to 1. `interval` is about below + above together."""

    below: float
    above: float
    interval: Interval

    @property
    def share(self) -> float:
        return self.below + self.above


def share_out_of_tolerance(
    *,
    mean: float,
    sd: float,
    n: int,
    lower: float | None = None,
    upper: float | None = None,
    confidence: float = 0.95,
) -> OutOfTolerance:
    """Expected share beyond one or two limits, normal jobs assumed.

    mean, sd (divisor n - 1): of n >= 2 readings, in the limits' unit.
    The shares are those of a normal with this mean and sd. The interval is a generalised one
    (Weerahandi, JASA 1993): the true sd is sd sqrt((n - 1) / chi-square); given it the mean's
    distance from the middle has the exact confidence that a sample mean no nearer gives. Exact for
    one limit, where it is that of the noncentral t. Between two limits it would start too high
    where the shop is centred; its lower end is set so that it does not.
    Raises NotFinite, BadInput.
    """
    mean, sd = require_number(mean, what="The mean"), require_sd(sd)
    require_limits(lower, upper)
    if n < 2:
        raise BadInput(why=f"An interval needs two readings or more; got {n}.")
    low = -math.inf if lower is None else lower
    high = math.inf if upper is None else upper
    tail = (1 - require_confidence(confidence)) / 2
    standing = _Standing(n, (low - mean) / sd, (high - mean) / sd)
    return OutOfTolerance(
        below=float(ndtr((low - mean) / sd)),
        above=float(ndtr((mean - high) / sd)),
        interval=Interval(
            standing.quantile(standing.least_at_most(tail)), standing.quantile(1 - tail)
        ),
    )


class _Standing:
    """The distribution of the share, given limits in sd from the mean of n readings."""

    def __init__(self, n: int, low: float, high: float) -> None:
        self.n, self.root = n, math.sqrt(n)
        self.low, self.high = low, high

    def at_most(self, share: float) -> float:
        """Confidence that the true share is at most this one."""
        if math.isinf(self.low) or math.isinf(self.high):
            return self._beyond_one(share)
        half = (self.high - self.low) / 2
        scale, weight = sd_ratio(self.n - 1, above=-float(ndtri(share / 2)) / half)
        middle = abs(self.low + self.high) / 2 * scale
        off = _off_centre(half * scale, share)
        return float(weight @ _no_farther(off, middle, self.root))

    def least_at_most(self, tail: float) -> float:
        """at_most's own quantile at this tail in a shop with the sample's sd and a mean as near to
        the middle as it may well be: `tail` itself where the confidence is exact, else less."""
        if math.isinf(self.low) or math.isinf(self.high):
            return tail
        middle = max(0.0, abs(self.low + self.high) / 2 - _NEARER / self.root)
        return _told_at(tail, n=self.n, half=(self.high - self.low) / 2, middle=middle)

    def quantile(self, confidence: float) -> float:
        """The share that the truth is at most with this confidence; solved in the logarithm."""
        floor, ceiling = math.log(_NONE), math.log1p(-_NONE)
        if self.at_most(math.exp(floor)) >= confidence:
            return 0.0
        if self.at_most(math.exp(ceiling)) <= confidence:
            return 1.0
        return math.exp(
            brentq(lambda log: self.at_most(math.exp(log)) - confidence, floor, ceiling, xtol=1e-9)
        )

    def _beyond_one(self, share: float) -> float:
        """For each true sd the share is under it while the true mean stays on one side of a bound,
        in true sd from the sample mean; its distance from there is N(0, 1/n)."""
        scale, weight = sd_ratio(self.n - 1)
        nearer = self.high if math.isinf(self.low) else -self.low
        return float(weight @ ndtr((nearer * scale + ndtri(share)) * self.root))


def _no_farther(off: FloatArray, middle: FloatArray, root: float) -> FloatArray:
    """Confidence that the true mean is within `off` of the middle, when the sample's is `middle`
    away, all in true sd: the chance of a sample mean at least so far out from one that is."""
    return ndtr((off - middle) * root) + ndtr(-(off + middle) * root)


def _told_at(tail: float, *, n: int, half: float, middle: float) -> float:
    """Over samples of a shop with limits -+ half and its mean `middle` off, in true sd, the
    quantile at `tail` of the confidence that each gives to the share that is true."""
    share = float(ndtr(middle - half) + ndtr(-middle - half))
    if share < _NONE or ndtr(-middle - half) < 1e-6 * share:
        return tail  # nothing out, or the farther limit counts for nothing
    root = math.sqrt(n)
    off_mean, mean_weight = gauss(-6.0, 6.0, 48)
    mean_weight = mean_weight * np.exp(-(off_mean**2) / 2) / math.sqrt(2 * math.pi)
    mean = np.abs(middle + off_mean / root)
    sample_sd, sd_weight = sd_ratio(n - 1)
    told = np.empty((sample_sd.size, mean.size))
    least = -float(ndtri(share / 2)) / half
    for row, sd in enumerate(sample_sd):
        scale, weight = sd_ratio(n - 1, above=least * sd)
        off = _off_centre(half / sd * scale, share)
        told[row] = weight @ _no_farther(off[:, None], mean / sd * scale[:, None], root)
    order = np.argsort(told, axis=None)
    reached = np.cumsum(np.outer(sd_weight, mean_weight).ravel()[order])
    return min(tail, float(np.interp(tail, reached, told.ravel()[order])))


def _off_centre(half: FloatArray, share: float) -> FloatArray:
    """How far off the middle of limits -half..half a unit normal has this share outside; negative
    where it has more even in the middle.

    Newton, halved back whenever it steps out of what still holds the root. The limit nearer to the
    mean alone gives an upper end: the farther one only adds.
    """
    low = np.zeros_like(half)
    high = np.maximum(half + ndtri(share), 0.0)
    off = high
    for _ in range(25):
        near, far = off - half, off + half
        excess = ndtr(near) + ndtr(-far) - share
        low, high = np.where(excess > 0, low, off), np.where(excess > 0, off, high)
        slope = (np.exp(-(near**2) / 2) - np.exp(-(far**2) / 2)) / math.sqrt(2 * math.pi)
        step = off - excess / np.maximum(slope, 1e-300)
        before, off = off, np.where((step >= low) & (step <= high), step, (low + high) / 2)
        if np.abs(off - before).max() < 1e-12:
            break
    return np.where(2 * ndtr(-half) > share, -1.0, off)
