"""Individuals and EWMA of target error and of height error, for the shop and for each lathe.

A signal here is shop-level: edge, lathe, gauge or hands. It names no fixture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from qc.lookups.channels import JobPoint, job_points
from qc.lookups.fixture_chart import stretch_starts
from qc.models import Channel, Lathe, ServiceEvent, ShopPolicy
from qc.numerics.charts.ewma import EwmaChart, ewma_chart
from qc.numerics.charts.individuals import IndividualsChart, individuals_chart, individuals_limits
from qc.numerics.run_length import individuals_ewma_widths

WEIGHT = 0.2
# Limits estimated from fewer jobs than this move so much that a signal means little.
FEWEST_JOBS = 12


@dataclass(frozen=True, eq=False)
class ErrorChart:
    """Both charts over the same jobs, or None while the baseline is too thin to judge by."""

    channel: Channel
    lathe: Lathe | None
    jobs: tuple[JobPoint, ...]
    individuals: IndividualsChart | None
    ewma: EwmaChart | None
    arl_jobs: float

    @property
    def jobs_wanted(self) -> int:
        """How many more jobs before the chart can judge."""
        return max(0, FEWEST_JOBS - len(self.jobs))


def error_chart(
    channel: Channel, *, lathe: Lathe | None = None, points: Sequence[JobPoint] | None = None
) -> ErrorChart:
    """The two charts of one channel; all lathes together where none is named.

    Limits come from the jobs themselves: the centre is their mean, sigma their median moving
    range, which one bad job cannot inflate. Their widths give the policy's false alarms a season.
    """
    chosen = [
        one
        for one in (job_points() if points is None else points)
        if _value(one, channel) is not None and (lathe is None or one.lathe_id == lathe.pk)
    ]
    policy = ShopPolicy.objects.order_by("-pk").first() or ShopPolicy()
    arl = float(policy.season_jobs) / float(policy.false_flags_per_season)
    starts = stretch_starts(chosen, [] if lathe is None else _serviced(lathe))
    neighbours = len(chosen) - sum(starts)
    if len(chosen) < FEWEST_JOBS or neighbours < FEWEST_JOBS // 2:
        return ErrorChart(channel, lathe, tuple(chosen), None, None, arl)
    values = np.array([_value(one, channel) for one in chosen], dtype=np.float64)
    widths = individuals_ewma_widths(arl, weight=WEIGHT)
    limits = individuals_limits(
        values, spread="median", sigmas=widths.individuals, stretch_start=starts
    )
    return ErrorChart(
        channel=channel,
        lathe=lathe,
        jobs=tuple(chosen),
        individuals=individuals_chart(values, limits=limits, stretch_start=starts),
        ewma=ewma_chart(
            values,
            centre=limits.centre,
            sigma=limits.sigma,
            weight=WEIGHT,
            width=widths.ewma,
            stretch_start=starts,
        ),
        arl_jobs=arl,
    )


def _value(point: JobPoint, channel: Channel) -> float | None:
    if channel == Channel.TARGET_ERROR:
        return point.target_error_mm
    return point.height_error_mm


def _serviced(lathe: Lathe) -> list[datetime]:
    """When the lathe or one of its edges was serviced: its charts start afresh there."""
    events = ServiceEvent.objects.filter(lathe=lathe) | ServiceEvent.objects.filter(
        edge__lathe=lathe
    )
    return sorted(events.values_list("at", flat=True))
