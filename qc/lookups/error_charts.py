"""Individuals and EWMA of target error and of height error, for the shop and for each lathe.

A signal here is shop-level: edge, lathe, gauge or hands. It names no fixture. The whole history is
judged by the limits and the policy now in force; what was signalled at the time is in the signals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from qc.lookups.channels import JobPoint, job_points
from qc.lookups.fixture_chart import stretch_starts
from qc.lookups.kept_errors import ErrorChartKept
from qc.lookups.rule_sets import arl_wanted, judging
from qc.lookups.scopes import scope_of
from qc.lookups.shop import shop_policy
from qc.models import Baseline, Channel, Lathe
from qc.numerics.charts.ewma import EwmaChart, ewma_chart
from qc.numerics.charts.first_jobs import (
    FEWEST_JOBS,
    FirstLimits,
    first_limits,
    held_limits,
)
from qc.numerics.charts.individuals import IndividualsChart, individuals_chart

__all__ = ["FEWEST_JOBS", "ErrorChart", "error_chart"]


@dataclass(frozen=True, eq=False)
class ErrorChart:
    """Both charts over the same jobs, or None while the baseline is too thin to judge by.

    baseline: the limits a person froze, None where they are estimated.
    """

    channel: Channel
    lathe: Lathe | None
    jobs: tuple[JobPoint, ...]
    individuals: IndividualsChart | None
    ewma: EwmaChart | None
    arl_jobs: float
    baseline: Baseline | None = None
    jobs_counted: int = 0

    @property
    def jobs_wanted(self) -> int:
        """How many more jobs before the chart can judge."""
        return max(0, FEWEST_JOBS - self.jobs_counted)


def error_chart(
    channel: Channel, *, lathe: Lathe | None = None, points: Sequence[JobPoint] | None = None
) -> ErrorChart:
    """The two charts of one channel; all lathes together where none is named.

    Limits are those a person froze, else those of the first BASELINE_JOBS jobs, counted from where
    limits were last given up. Their widths give the policy's false alarms a season, the wider the
    fewer jobs they rest on.
    """
    chosen = [
        one
        for one in (job_points() if points is None else points)
        if value_of(one, channel) is not None and (lathe is None or one.lathe_id == lathe.pk)
    ]
    policy, scope = shop_policy(), scope_of(lathe)
    judged_by = judging(policy)
    starts = stretch_starts(chosen, scope.service_times())
    values = np.array([value_of(one, channel) for one in chosen], dtype=np.float64)
    chart = ErrorChart(channel, lathe, tuple(chosen), None, None, arl_wanted(policy))
    baselines = list(Baseline.objects.filter(chart__key=ErrorChartKept(channel, scope).key))
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
        first = next((i for i, p in enumerate(chosen) if ended is None or p.at >= ended), None)
        own = slice(len(chosen) if first is None else first, None)
        chart = replace(chart, jobs_counted=len(chosen[own]))
        found = first_limits(
            tuple(values[own].tolist()),
            tuple(starts[own]),
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


def value_of(point: JobPoint, channel: Channel) -> float | None:
    if channel == Channel.TARGET_ERROR:
        return point.target_error_mm
    return point.height_error_mm
