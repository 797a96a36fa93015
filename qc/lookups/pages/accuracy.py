"""The months: is the shop on target, is it steady, what share is inside tolerance, since when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from enum import StrEnum
from itertools import takewhile

import numpy as np
from django.db.models import QuerySet

from qc.actor import Actor
from qc.lookups.charts.capability import (
    CapabilityWish,
    ShopCapability,
    shop_capability,
)
from qc.lookups.charts.error_charts import ErrorChart, error_chart
from qc.lookups.charts.scopes import scope_of
from qc.lookups.pages.months import (
    Mean,
    Month,
    mean_of,
    month_before,
    months_of,
)
from qc.lookups.pages.months_tally import Told, months_tally
from qc.lookups.record.channels import (
    JobPoint,
    measured_rounds,
    newest_points,
)
from qc.lookups.shop.pace import false_signal_pace
from qc.lookups.shop.policy import shop_policy
from qc.models import Channel, JobResult, Lathe, Signal

# However many years of jobs there are: these are read one by one.
NEWEST = 600
LATELY = 30
# So many jobs inside its limits before a running average that left them is called steady again.
SETTLED = 12
FEWEST_FOR_A_MEAN = 5
SIGNALS_LISTED = 40


class Steady(StrEnum):
    """How the running average of the target error stands to its limits."""

    YES = "yes"
    OUTSIDE = "outside"
    JUST_BACK = "just_back"
    THIN = "thin"
    COARSE = "coarse"


@dataclass(frozen=True)
class Steadiness:
    """since: the job that began the present run inside or outside; or_before: it is the first of
    those looked at. left_at: the job at which the average last left its limits, where it is outside
    or just back. jobs_wanted: where it is thin.
    """

    steady: Steady
    since: JobPoint | None = None
    left_at: JobPoint | None = None
    jobs_wanted: int = 0
    or_before: bool = False


@dataclass(frozen=True, eq=False)
class AccuracyPage:
    """`lathe` None is the whole shop. points: the newest jobs, jobs_before of them on the chart.
    months: the last ones, up to that of `until` where there is one, with every job of theirs;
    earlier: the last month with a job before them. lately: the last jobs together. leaning_since:
    the first month of the unbroken run, up to now, of months that lean as the last jobs do; None
    where the newest month does not, or earlier ones are looked at; leans_before: the run fills all
    months told, and there are older ones.
    promise: of the points since the shop has been steady; None while it is not.
    tolerance_mm: the narrowest below and above target among the points, None without jobs.
    """

    lathe: Lathe | None
    lathes: Sequence[Lathe]
    points: Sequence[JobPoint]
    months: Sequence[Month]
    until: date | None
    earlier: date | None
    lately: Mean | None
    lately_inside: int
    last_outside: JobPoint | None
    leaning_since: date | None
    leans_before: bool
    steady: Steadiness
    promise: ShopCapability | None
    charts: dict[Channel, ErrorChart]
    signals: Sequence[Signal]
    pace: str | None
    tolerance_mm: tuple[float, float] | None

    @property
    def jobs_before(self) -> int:
        """How many are too old to be among the points."""
        return self.charts[Channel.TARGET_ERROR].jobs_before


def accuracy_page(
    *, lathe: Lathe | None, zone: tzinfo, now: datetime, until: date | None = None
) -> AccuracyPage:
    """What the page of the whole shop or of one lathe shows; months by the calendar of `zone`."""
    results, points = _results(lathe), points_of(lathe)
    charts = {channel: error_chart(channel, lathe=lathe, points=points) for channel in Channel}
    signals = Signal.objects.filter(lathe=lathe, withdrawn_at=None)
    months = months_of(results, signals, zone=zone, until=until)
    earlier = month_before(results, months, zone=zone)
    last = points[-LATELY:]
    lately = None
    if len(last) >= FEWEST_FOR_A_MEAN:
        lately = mean_of([one.target_error_mm for one in last])
    leaning = _leaning(months, lately) if until is None else []
    policy = shop_policy()
    steady = steadiness(charts[Channel.TARGET_ERROR])
    return AccuracyPage(
        lathe=lathe,
        lathes=list(Lathe.objects.order_by("name")),
        points=points,
        months=months,
        until=until,
        earlier=earlier,
        lately=lately,
        lately_inside=sum(one.is_inside for one in last),
        last_outside=next((one for one in reversed(points) if not one.is_inside), None),
        leaning_since=leaning[0].month if leaning else None,
        leans_before=earlier is not None and leaning == months,
        steady=steady,
        promise=_promise(points, steady),
        charts=charts,
        signals=list(signals.select_related("round", "lathe")[:SIGNALS_LISTED]),
        pace=false_signal_pace(policy, results, now=now),
        tolerance_mm=_narrowest(points),
    )


def told_of(page: AccuracyPage, by: Actor, *, zone: tzinfo) -> Told:
    """Flags, services and misses of the page's months, as this reader may know of them."""
    months = [one.month for one in page.months]
    return months_tally(
        _results(page.lathe), by, lathe=page.lathe, months=months, zone=zone, until=page.until
    )


def points_of(lathe: Lathe | None, *, since: datetime | None = None) -> list[JobPoint]:
    """The NEWEST measured jobs of the shop or of one lathe, in cutting order. since: none that was
    measured before."""
    results = _results(lathe)
    if since is not None:
        results = results.filter(measured_at__gte=since)
    return newest_points(results, NEWEST)


def _results(lathe: Lathe | None) -> QuerySet[JobResult]:
    return measured_rounds().filter(scope_of(lathe).jobs())


def _promise(points: Sequence[JobPoint], steady: Steadiness) -> ShopCapability | None:
    if steady.steady != Steady.YES or steady.since is None:
        return None
    since = [one.round_id for one in points].index(steady.since.round_id)
    return shop_capability(points[since:], CapabilityWish())


def _leaning(months: Sequence[Month], lately: Mean | None) -> list[Month]:
    """The unbroken run of months, up to now, that lean as the last jobs do; oldest first."""
    if lately is None:
        return []
    return list(takewhile(lambda one: one.error.leans == lately.leans, reversed(months)))[::-1]


def steadiness(chart: ErrorChart) -> Steadiness:
    """Departures fewer than SETTLED jobs apart are one: an average near its limit flickers. Judged
    are the jobs from where the chart's average has settled."""
    if chart.ewma is None or chart.individuals is None:
        return Steadiness(Steady.THIN, jobs_wanted=chart.jobs_wanted)
    if chart.individuals.limits.is_zero_width:
        return Steadiness(Steady.COARSE)
    jobs = chart.jobs[chart.settled_at :]
    outside = np.flatnonzero(chart.ewma.signal[chart.settled_at :])
    if not outside.size:
        return Steadiness(Steady.YES, since=jobs[0], or_before=chart.jobs_before > 0)
    last = int(outside[-1])
    begins = np.flatnonzero(np.diff(outside) > SETTLED)
    left_at = jobs[int(outside[begins[-1] + 1] if begins.size else outside[0])]
    if last == len(jobs) - 1:
        or_before = left_at == jobs[0] and chart.jobs_before > 0
        return Steadiness(Steady.OUTSIDE, since=left_at, left_at=left_at, or_before=or_before)
    back = jobs[last + 1]
    if len(jobs) - 1 - last < SETTLED:
        return Steadiness(Steady.JUST_BACK, since=back, left_at=left_at)
    return Steadiness(Steady.YES, since=back)


def _narrowest(points: Sequence[JobPoint]) -> tuple[float, float] | None:
    if not points:
        return None
    return min(one.tol_minus_mm for one in points), min(one.tol_plus_mm for one in points)
