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
from qc.numerics.series import require_number


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
    The shares are those of a normal with this mean and sd. The interval is the generalised one
    (Weerahandi, JASA 1993): the true sd is sd sqrt((n - 1) / chi-square), the true mean
    mean - z sd_true / sqrt n. Exact for one limit, where it is that of the noncentral t.
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
        interval=Interval(standing.quantile(tail), standing.quantile(1 - tail)),
    )


class _Standing:
    """The distribution of the share, given limits in sd from the mean of n readings."""

    def __init__(self, n: int, low: float, high: float) -> None:
        self.root, self.low, self.high = math.sqrt(n), low, high
        self.scale, self.weight = sd_ratio(n - 1)

    def at_most(self, share: float) -> float:
        """Chance that the true share is at most this one.

        For each true sd the share is under it while the true mean stays between two bounds, in true
        sd from the sample mean; its distance from there is N(0, 1/n).
        """
        first, last = self._bounds(share)
        inside = ndtr(last * self.root) - ndtr(first * self.root)
        return float(self.weight @ np.maximum(inside, 0.0))

    def quantile(self, chance: float) -> float:
        """The share that the truth is under with this chance; solved in the logarithm."""
        floor, ceiling = math.log(1e-15), math.log1p(-1e-15)
        if self.at_most(math.exp(floor)) >= chance:
            return 0.0
        if self.at_most(math.exp(ceiling)) <= chance:
            return 1.0
        return math.exp(
            brentq(lambda log: self.at_most(math.exp(log)) - chance, floor, ceiling, xtol=1e-9)
        )

    def _bounds(self, share: float) -> tuple[FloatArray, FloatArray]:
        """The true means, in true sd from the sample's, between which the share is under this one;
        crossed where even the best mean has more."""
        low, high = self.low * self.scale, self.high * self.scale
        if math.isinf(self.low):
            return np.full_like(high, -np.inf), high + ndtri(share)
        if math.isinf(self.high):
            return low - ndtri(share), np.full_like(low, np.inf)
        half = (high - low) / 2
        off = _off_centre(half, share)
        return (low + high) / 2 - off, (low + high) / 2 + off


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
