"""Individuals and moving-range charts: one number a job, in any one unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from qc.errors import TooFewReadings
from qc.numerics.constants import D2_OF_TWO, D4_OF_TWO, chart_constants
from qc.numerics.moments import mean_of, without_rounding_noise
from qc.numerics.results import FloatArray
from qc.numerics.series import (
    BoolArray,
    require_number,
    require_series,
    require_starts,
)


@dataclass(frozen=True)
class IndividualsLimits:
    """Natural limits of jobs taken one at a time, in the unit of the readings.

    `sigma` is the short-term standard deviation; `moving_range_mean` is d2 sigma, so that frozen
    limits state the same whichever way the spread was estimated. `jobs` readings and `pairs`
    neighbours made them.
    """

    centre: float
    lower: float
    upper: float
    sigma: float
    sigmas: float
    moving_range_mean: float
    moving_range_upper: float
    jobs: int
    pairs: int

    @property
    def is_zero_width(self) -> bool:
        """All readings alike: say "instrument too coarse", never "in control"."""
        return self.sigma == 0.0


@dataclass(frozen=True, eq=False)
class IndividualsChart:
    """`moving_range[i]` is the distance from the job before, NaN where a stretch begins.

    `beyond` and `moving_range_beyond` mark points strictly outside; with limits of zero width
    nothing is marked, because nothing can be judged.
    """

    value: FloatArray
    moving_range: FloatArray
    beyond: BoolArray
    moving_range_beyond: BoolArray
    limits: IndividualsLimits


def individuals_limits(
    x: ArrayLike,
    *,
    spread: Literal["mean", "median"] = "mean",
    sigmas: float = 3.0,
    stretch_start: ArrayLike | None = None,
) -> IndividualsLimits:
    """Centre line and natural limits of jobs taken one at a time.

    x: shape (n,), n >= 2, in cutting order; any unit, which the limits then have.
    spread: sigma from the mean moving range / d2(2), or from the median moving range / 0.95387,
        which one jump cannot inflate (NIST/SEMATECH e-Handbook 6.3.2.2; ISO 7870-2).
    sigmas: half the width, in sigma. The moving-range limit is D4(2) of the mean moving range.
    stretch_start: shape (n,) bool, True where a service event begins a new stretch; a moving range
        never reaches across one. The centre is the mean of all n.
    Equal readings give zero width: see IndividualsLimits.is_zero_width.
    Raises TooFewReadings with under two readings or no two neighbours; NotFinite on NaN or inf.
    """
    values = require_series(x, at_least=2)
    sigmas = require_number(sigmas, what="The width in sigmas", above=0)
    starts = require_starts(stretch_start, values.size)
    ranges = np.abs(np.diff(values))[~starts[1:]]
    if ranges.size == 0:
        raise TooFewReadings(needed=2, got=1)
    sigma = without_rounding_noise(
        float(ranges.mean()) / D2_OF_TWO
        if spread == "mean"
        else float(np.median(ranges)) / D4_OF_TWO,
        values,
    )
    return frozen_limits(mean_of(values), sigma, sigmas, jobs=values.size, pairs=ranges.size)


def frozen_limits(
    centre: float, sigma: float, sigmas: float = 3.0, *, jobs: int = 0, pairs: int = 0
) -> IndividualsLimits:
    """Limits whose centre and sigma >= 0 are known. jobs, pairs: what made them, where told."""
    return IndividualsLimits(
        centre=centre,
        lower=centre - sigmas * sigma,
        upper=centre + sigmas * sigma,
        sigma=sigma,
        sigmas=sigmas,
        moving_range_mean=sigma * D2_OF_TWO,
        moving_range_upper=chart_constants(2).D4 * sigma * D2_OF_TWO,
        jobs=jobs,
        pairs=pairs,
    )


def individuals_chart(
    x: ArrayLike,
    *,
    limits: IndividualsLimits | None = None,
    stretch_start: ArrayLike | None = None,
) -> IndividualsChart:
    """The points, their moving ranges, and which lie outside.

    x: shape (n,), in cutting order, n >= 1 with frozen `limits`; without them n >= 2 and the
        limits are those of x itself.
    Raises as individuals_limits does.
    """
    values = require_series(x)
    starts = require_starts(stretch_start, values.size)
    if limits is None:
        limits = individuals_limits(values, stretch_start=starts)
    moving_range = np.full(values.size, np.nan)
    moving_range[1:] = np.where(starts[1:], np.nan, np.abs(np.diff(values)))
    judged = not limits.is_zero_width
    return IndividualsChart(
        value=values,
        moving_range=moving_range,
        beyond=judged & ((values > limits.upper) | (values < limits.lower)),
        moving_range_beyond=judged & (moving_range > limits.moving_range_upper),
        limits=limits,
    )
