"""Individuals and EWMA of target error and of height error, for the shop and for each lathe.

A signal here is shop-level: edge, lathe, gauge or hands. It names no fixture. Every job shown is
judged by the limits and the policy now in force; what was signalled at the time is in the signals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from qc.lookups.charts.fixture_chart import stretch_starts
from qc.lookups.charts.kept_charts import stored
from qc.lookups.charts.kept_errors import ErrorChartKept
from qc.lookups.charts.rule_sets import arl_wanted, judging
from qc.lookups.charts.scopes import scope_of
from qc.lookups.record.channels import JobPoint, job_points
from qc.lookups.shop.policy import shop_policy
from qc.models import Baseline, Channel, Lathe
from qc.numerics.charts.ewma import EwmaChart, ewma_chart
from qc.numerics.charts.first_jobs import (
    BASELINE_JOBS,
    FEWEST_JOBS,
    FirstLimits,
    first_limits,
    held_limits,
)
from qc.numerics.charts.individuals import IndividualsChart, individuals_chart
from qc.numerics.results import FloatArray

# By then a running average no longer owes anything to where it began.
SETTLES_IN = 200

__all__ = ["FEWEST_JOBS", "ErrorChart", "error_chart"]


@dataclass(frozen=True, eq=False)
class ErrorChart:
    """Both charts over the same jobs, or None while the baseline is too thin to judge by.

    baseline: the limits a person froze, None where they are estimated. jobs_before: on the chart
    before these. jobs_counted: those an estimate rests on so far.
    """

    channel: Channel
    lathe: Lathe | None
    jobs: tuple[JobPoint, ...]
    individuals: IndividualsChart | None
    ewma: EwmaChart | None
    arl_jobs: float
    baseline: Baseline | None = None
    jobs_before: int = 0
    jobs_counted: int = 0

    @property
    def settled_at(self) -> int:
        """Of these jobs, the first whose average does not show that there were others before."""
        return min(SETTLES_IN, max(0, len(self.jobs) - 1)) if self.jobs_before else 0

    @property
    def jobs_wanted(self) -> int:
        """How many more jobs before the chart can judge."""
        return max(0, FEWEST_JOBS - self.jobs_counted)


def error_chart(
    channel: Channel, *, lathe: Lathe | None = None, points: Sequence[JobPoint] | None = None
) -> ErrorChart:
    """The two charts of one channel; all lathes together where none is named.

    points: the newest jobs, in cutting order; every job where they are left out. Limits are those
    a person froze, else those of the chart's first BASELINE_JOBS jobs, counted from where limits
    were last given up, whether they are among the points or not. Their widths give the policy's
    false alarms a season, the wider the fewer jobs they rest on. Where there were jobs before the
    points the average starts at the centre all the same: see settled_at.
    """
    chosen = [
        one
        for one in (job_points() if points is None else points)
        if value_of(one, channel) is not None and (lathe is None or one.lathe_id == lathe.pk)
    ]
    policy, scope = shop_policy(), scope_of(lathe)
    judged_by = judging(policy)
    starts = stretch_starts(chosen, scope.service_times())
    values = _values(chosen, channel)
    kept = ErrorChartKept(channel, scope)
    before = _jobs_before(kept, chosen)
    chart = ErrorChart(
        channel, lathe, tuple(chosen), None, None, arl_wanted(policy), jobs_before=before
    )
    baselines = list(Baseline.objects.filter(chart__key=kept.key))
    standing = next((one for one in baselines if one.holds_until is None), None)
    known = judged_by.by.widths
    found: FirstLimits | None
    if standing is not None:
        found = held_limits(
            standing.centre_mm,
            standing.sigma_mm,
            jobs=standing.job_count,
            pairs=standing.pair_count,
            known=known,
            weight=judged_by.by.weight,
        )
    else:
        ended = max((one.holds_until for one in baselines if one.holds_until), default=None)
        own = _first_jobs(kept, chosen, before=before, since=ended)
        chart = replace(chart, jobs_counted=len(own))
        found = first_limits(
            tuple(_values(own, channel).tolist()),
            tuple(stretch_starts(own, scope.service_times())),
            known=known,
            weight=judged_by.by.weight,
        )
    if found is None or not chosen:
        return chart
    return replace(
        chart,
        baseline=standing,
        individuals=individuals_chart(values, limits=found.single, stretch_start=starts),
        ewma=ewma_chart(
            values,
            centre=found.single.centre,
            sigma=found.single.sigma,
            weight=judged_by.by.weight,
            width=found.average_width,
            stretch_start=starts,
        ),
    )


def _jobs_before(kept: ErrorChartKept, jobs: Sequence[JobPoint]) -> int:
    """How many the stored chart has before these; it may lack the newest of them yet."""
    row = stored(kept)
    if row is None or row.at is None:
        return 0
    return max(0, row.jobs - sum(one.at <= row.at for one in jobs))


def _first_jobs(
    kept: ErrorChartKept, jobs: Sequence[JobPoint], *, before: int, since: datetime | None
) -> list[JobPoint]:
    """Those that limits are estimated from: the first since limits were last given up."""
    if before and jobs and (since is None or since <= jobs[0].at):
        results = kept.results() if since is None else kept.results().filter(measured_at__gte=since)
        return job_points(results[:BASELINE_JOBS])
    own = [one for one in jobs if since is None or one.at >= since]
    return own[:BASELINE_JOBS]


def _values(points: Sequence[JobPoint], channel: Channel) -> FloatArray:
    return np.array([value_of(one, channel) for one in points], dtype=np.float64)


def value_of(point: JobPoint, channel: Channel) -> float | None:
    if channel == Channel.TARGET_ERROR:
        return point.target_error_mm
    return point.height_error_mm
