"""Did the shop drift, or shift, and when? Of target error and of spread, over the last jobs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from qc.lookups.record.channels import JobPoint
from qc.numerics.capability import Interval
from qc.numerics.charts.first_jobs import FEWEST_JOBS
from qc.numerics.results import FloatArray
from qc.numerics.trend import find_levels, mann_kendall, theil_sen

# Every way to cut the record is tried, which takes the square of its length.
NEWEST = 600
A_MONTH = timedelta(days=365.25 / 12)
SURE = 0.05
# Below this a spread is rounding, and its logarithm would run away.
LEAST_SPREAD_MM = 0.0005


@dataclass(frozen=True)
class Trend:
    """slope: mm a month, its interval at 95 %; p: of Mann and Kendall, None where no reading
    differs."""

    slope: float
    interval: Interval
    p: float | None

    @property
    def is_seen(self) -> bool:
        return self.p is not None and self.p < SURE


@dataclass(frozen=True)
class Level:
    """Jobs at one level, from the first to the last of them."""

    since: datetime
    until: datetime
    jobs: int
    mean_mm: float


@dataclass(frozen=True)
class Shift:
    """The level changed with `job`; earliest, latest: the jobs between which the first one at the
    new level lies at 95 %, None where neither level scatters."""

    job: JobPoint
    earliest: JobPoint | None
    latest: JobPoint | None
    before_mm: float
    after_mm: float

    @property
    def step_mm(self) -> float:
        return self.after_mm - self.before_mm


@dataclass(frozen=True, eq=False)
class Shifts:
    """One quantity. jobs_wanted: how many more before anything can be said; trend then None."""

    jobs: Sequence[JobPoint]
    values_mm: FloatArray
    jobs_wanted: int = 0
    trend: Trend | None = None
    levels: Sequence[Level] = ()
    shifts: Sequence[Shift] = ()


def target_error_shifts(points: Sequence[JobPoint]) -> Shifts:
    """Positive is wider."""
    jobs = points[-NEWEST:]
    values = np.array([one.target_error_mm for one in jobs])
    return _found(jobs, values, values)


def spread_shifts(points: Sequence[JobPoint]) -> Shifts:
    """Of the repeats at one position, where a job has any; levels are means of the logarithm, since
    a spread scatters by a share of itself."""
    jobs = [one for one in points if one.spread_mm is not None][-NEWEST:]
    values = np.array([one.spread_mm for one in jobs], dtype=np.float64)
    return _found(jobs, values, np.log(np.maximum(values, LEAST_SPREAD_MM)), is_log=True)


def _found(
    jobs: Sequence[JobPoint], values: FloatArray, scaled: FloatArray, *, is_log: bool = False
) -> Shifts:
    if len(jobs) < FEWEST_JOBS:
        return Shifts(jobs, values, jobs_wanted=FEWEST_JOBS - len(jobs))
    found = find_levels(scaled, interval="likelihood") if np.ptp(scaled) else None
    ends = [] if found is None else [one.last_before for one in found.breaks]
    means = [float(scaled.mean())] if found is None else found.mean.tolist()
    told = [math.exp(one) if is_log else one for one in means]
    levels = [
        Level(jobs[first].at, jobs[last].at, last - first + 1, mean)
        for first, last, mean in zip(
            [0, *(end + 1 for end in ends)], [*ends, len(jobs) - 1], told, strict=True
        )
    ]
    shifts = [
        Shift(
            job=jobs[one.last_before + 1],
            earliest=None if one.earliest is None else jobs[one.earliest + 1],
            latest=None if one.latest is None else jobs[one.latest + 1],
            before_mm=before,
            after_mm=after,
        )
        for one, before, after in zip(
            () if found is None else found.breaks, told[:-1], told[1:], strict=True
        )
    ]
    return Shifts(jobs, values, trend=_trend(jobs, values), levels=levels, shifts=shifts)


def _trend(jobs: Sequence[JobPoint], values: FloatArray) -> Trend | None:
    months = np.array([(one.at - jobs[0].at) / A_MONTH for one in jobs])
    if np.ptp(months) == 0:
        return None
    line = theil_sen(values, time=months)
    return Trend(line.slope, line.slope_interval, mann_kendall(values, time=months).p)
