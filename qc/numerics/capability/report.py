"""What a shop can promise from its own jobs, or why it cannot promise yet."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qc.errors import ShopError
from qc.numerics.capability.indices import (
    CapabilityIndices,
    Interval,
    capability_indices,
    cp_interval,
    cpk_interval,
    cpk_lower_bound_exact,
    cpm_interval,
    require_limits,
)
from qc.numerics.capability.normality import FEWEST, Normality, normality
from qc.numerics.capability.share import OutOfTolerance, share_out_of_tolerance
from qc.numerics.capability.tolerance import ToleranceInterval, tolerance_interval
from qc.numerics.charts import ewma_chart, individuals_limits
from qc.numerics.moments import mean_of, sd_of
from qc.numerics.run_length import individuals_ewma_widths
from qc.numerics.series import require_series

STEADY_CONFIDENCE = 0.95
EWMA_WEIGHT = 0.2


class NotSteady(ShopError):
    """The record moved while it was made, so it says little of what comes next."""

    code = "not_steady"
    message = (
        "These {jobs} jobs are not steady: job {first} is outside what the rest explain. Find out "
        "why, or begin after the change; asking all the same gives a figure that may not hold."
    )


@dataclass(frozen=True)
class Capability:
    """short: indices from the moving-range sigma (Cp, Cpk). overall: from the overall standard
    deviation (Pp, Ppk, Cpm). Intervals are None where the index is. normality is None under eight
    jobs. is_steady False only if asked for all the same; `unsteady_at` are the jobs that show it.
    """

    jobs: int
    mean: float
    sd: float
    sigma: float
    short: CapabilityIndices
    overall: CapabilityIndices
    cp_interval: Interval | None
    cpk_interval: Interval
    pp_interval: Interval | None
    ppk_interval: Interval
    ppk_at_least: float
    cpm_interval: Interval | None
    tolerance: ToleranceInterval
    out: OutOfTolerance
    normality: Normality | None
    is_steady: bool
    unsteady_at: tuple[int, ...]


def capability(
    x: ArrayLike,
    *,
    lower: float | None = None,
    upper: float | None = None,
    target: float | None = None,
    confidence: float = 0.95,
    coverage: float = 0.95,
    even_if_unsteady: bool = False,
    stretch_start: ArrayLike | None = None,
) -> Capability:
    """Capability and performance of jobs in cutting order against one or two limits.

    x: shape (n,), n >= 2, in the limits' unit. coverage: share of jobs the tolerance interval is
    to hold. Steadiness is judged first, see unsteady_jobs.
    Raises NotSteady unless told to go on, TooFewReadings, NotFinite, BadInput (all readings alike,
    no limit, limits the wrong way round).
    """
    values = require_series(x, at_least=2)
    require_limits(lower, upper)
    moved = unsteady_jobs(values, stretch_start=stretch_start)
    if moved.size and not even_if_unsteady:
        raise NotSteady(jobs=values.size, first=int(moved[0]) + 1)
    n, mean, sd = values.size, mean_of(values), sd_of(values)
    limits = individuals_limits(values, stretch_start=stretch_start)
    short = capability_indices(mean=mean, sd=limits.sigma, lower=lower, upper=upper, target=target)
    overall = capability_indices(mean=mean, sd=sd, lower=lower, upper=upper, target=target)
    df = moving_range_df(limits.pairs)
    return Capability(
        jobs=n,
        mean=mean,
        sd=sd,
        sigma=limits.sigma,
        short=short,
        overall=overall,
        cp_interval=_maybe_cp(short.cp, df, confidence),
        cpk_interval=cpk_interval(short.cpk, n=n, df=df, confidence=confidence),
        pp_interval=_maybe_cp(overall.cp, n - 1, confidence),
        ppk_interval=cpk_interval(overall.cpk, n=n, confidence=confidence),
        ppk_at_least=cpk_lower_bound_exact(overall.cpk, n=n, confidence=confidence),
        cpm_interval=None
        if overall.cpm is None or target is None
        else cpm_interval(
            overall.cpm, n=n, mean_off_target=mean - target, sd=sd, confidence=confidence
        ),
        tolerance=tolerance_interval(
            mean=mean, sd=sd, n=n, coverage=coverage, confidence=confidence
        ),
        out=share_out_of_tolerance(
            mean=mean, sd=sd, n=n, lower=lower, upper=upper, confidence=confidence
        ),
        normality=normality(values) if n >= FEWEST else None,
        is_steady=moved.size == 0,
        unsteady_at=tuple(moved.tolist()),
    )


def unsteady_jobs(x: ArrayLike, *, stretch_start: ArrayLike | None = None) -> np.ndarray:
    """Indices of jobs that an individuals or an EWMA chart of the record itself marks.

    Widths are such that a record of n steady jobs is marked about once in twenty: a run length of
    n / 0.05. The EWMA (weight 0.2) runs through the stretches, since a service may also move it.
    """
    values = require_series(x, at_least=2)
    limits = individuals_limits(values, stretch_start=stretch_start)
    if limits.is_zero_width:
        return np.zeros(0, dtype=np.int64)
    widths = individuals_ewma_widths(
        float(values.size / (1 - STEADY_CONFIDENCE)), weight=EWMA_WEIGHT
    )
    single = np.abs(values - limits.centre) > widths.individuals * limits.sigma
    slow = ewma_chart(
        values, centre=limits.centre, sigma=limits.sigma, weight=EWMA_WEIGHT, width=widths.ewma
    )
    return np.flatnonzero(single | slow.signal)


def moving_range_df(pairs: int) -> float:
    """Degrees of freedom that the mean of so many moving ranges is worth.

    The variance of sigma's estimate over sigma^2, for m overlapping pairs of independent normals:
    (0.5708 m + 0.2556 (m - 1)) / m^2, from var |a - b| = 2 - 4/pi and the covariance of neighbours
    (4 / pi) (sqrt(3)/2 + pi/12 - 1).
    """
    d2_squared = 4 / math.pi
    own = (2 - d2_squared) / d2_squared
    shared = 2 * (math.sqrt(3) / 2 + math.pi / 12 - 1)
    return pairs**2 / (2 * (own * pairs + shared * (pairs - 1)))


def _maybe_cp(cp: float | None, df: float, confidence: float) -> Interval | None:
    return None if cp is None else cp_interval(cp, df=df, confidence=confidence)
