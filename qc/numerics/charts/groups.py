"""Charts of group averages with the spread inside groups: range (xbar-R) or deviation (xbar-s).

A group is several readings of one job, or of jobs taken as one. Sizes may differ: every group then
has its own limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from qc.errors import TooFewReadings
from qc.numerics.constants import c4, d2, d3
from qc.numerics.moments import mean_of, one_way, sd_of, without_rounding_noise
from qc.numerics.results import FloatArray, IntArray
from qc.numerics.series import BoolArray, require_number, require_series

Spread = Literal["range", "sd"]


@dataclass(frozen=True)
class GroupLimits:
    """What a group chart is frozen at: sigma is the standard deviation of one reading in a group.

    spread_mean: mean range or mean standard deviation of the groups that made the limits.
    """

    centre: float
    sigma: float
    sigmas: float
    spread: Spread
    spread_mean: float
    groups: int

    @property
    def is_zero_width(self) -> bool:
        """No spread inside any group: say "instrument too coarse", never "in control"."""
        return self.sigma == 0.0


@dataclass(frozen=True, eq=False)
class GroupChart:
    """One entry a group. `beyond`: the mean is strictly outside; `spread_beyond`: the range or
    standard deviation is. With limits of zero width nothing is marked."""

    size: IntArray
    mean: FloatArray
    lower: FloatArray
    upper: FloatArray
    beyond: BoolArray
    spread: FloatArray
    spread_lower: FloatArray
    spread_upper: FloatArray
    spread_beyond: BoolArray
    limits: GroupLimits


def group_limits(
    groups: Sequence[ArrayLike], *, spread: Spread = "range", sigmas: float = 3.0
) -> GroupLimits:
    """Centre and within-group sigma.

    groups: one or more, each shape (n_i,), n_i >= 2, in cutting order.
    spread: "range" for sigma = mean of range / d2(n_i), "sd" for mean of standard deviation /
        c4(n_i) (ISO 7870-2; ASTM E2587). centre: mean of all readings.
    Raises TooFewReadings, NotFinite, BadInput.
    """
    rows = _rows(groups)
    sigmas = require_number(sigmas, what="The width in sigmas", above=0)
    spreads = _spreads(rows, spread)
    everything = np.concatenate(rows)
    sigma = float((spreads / _unit_spread(rows, spread)).mean())
    return GroupLimits(
        centre=mean_of(everything),
        sigma=without_rounding_noise(sigma, everything),
        sigmas=sigmas,
        spread=spread,
        spread_mean=float(spreads.mean()),
        groups=len(rows),
    )


def group_chart(
    groups: Sequence[ArrayLike],
    *,
    limits: GroupLimits | None = None,
    spread: Spread = "range",
    sigmas: float = 3.0,
) -> GroupChart:
    """Group means and spreads against frozen `limits`, or against their own.

    Limits: centre -+ sigmas sigma / sqrt n for the mean; sigma (d2 -+ sigmas d3) for the range,
    sigma (c4 -+ sigmas sqrt(1 - c4^2)) for the standard deviation, never under zero. With frozen
    limits `spread` and `sigmas` are theirs. Raises as group_limits.
    """
    rows = _rows(groups)
    if limits is None:
        limits = group_limits(groups, spread=spread, sigmas=sigmas)
    sizes = np.array([row.size for row in rows])
    mean = np.array([mean_of(row) for row in rows])
    spreads = _spreads(rows, limits.spread)
    half = limits.sigmas * limits.sigma / np.sqrt(sizes)
    unit = _unit_spread(rows, limits.spread)
    unit_sd = (
        np.array([d3(n) for n in sizes.tolist()])
        if limits.spread == "range"
        else np.sqrt(1 - unit**2)
    )
    spread_lower = np.maximum(0.0, limits.sigma * (unit - limits.sigmas * unit_sd))
    spread_upper = limits.sigma * (unit + limits.sigmas * unit_sd)
    judged = not limits.is_zero_width
    return GroupChart(
        size=sizes,
        mean=mean,
        lower=limits.centre - half,
        upper=limits.centre + half,
        beyond=judged & (np.abs(mean - limits.centre) > half),
        spread=spreads,
        spread_lower=spread_lower,
        spread_upper=spread_upper,
        spread_beyond=judged & ((spreads > spread_upper) | (spreads < spread_lower)),
        limits=limits,
    )


def pooled_sd(groups: Sequence[ArrayLike]) -> float:
    """Root mean square within groups, the best estimate if every group has the same spread."""
    rows = _rows(groups)
    return one_way(rows).sd_within if len(rows) > 1 else sd_of(rows[0])


def _rows(groups: Sequence[ArrayLike]) -> list[FloatArray]:
    if len(groups) == 0:
        raise TooFewReadings(needed=2, got=0)
    return [require_series(group, at_least=2) for group in groups]


def _spreads(rows: list[FloatArray], spread: Spread) -> FloatArray:
    return np.array([float(np.ptp(row)) if spread == "range" else sd_of(row) for row in rows])


def _unit_spread(rows: list[FloatArray], spread: Spread) -> FloatArray:
    of_size = d2 if spread == "range" else c4
    return np.array([of_size(row.size) for row in rows])
