"""The months: is the shop on target, is it steady, what share is inside tolerance, since when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from enum import StrEnum
from itertools import groupby, takewhile

import numpy as np

from qc.lookups.capability import CapabilityWish, ShopCapability, shop_capability
from qc.lookups.channels import JobPoint, job_points
from qc.lookups.error_charts import ErrorChart, error_chart
from qc.lookups.pace import false_signal_pace
from qc.lookups.shop import shop_policy
from qc.models import Channel, Lathe, Signal
from qc.numerics.uncertainty import combine, mean_u

LATELY = 30
# So many jobs inside its limits before a running average that left them is called steady again.
SETTLED = 12
FEWEST_FOR_A_MEAN = 5
CONFIDENCE = 0.95
SIGNALS_LISTED = 40


@dataclass(frozen=True)
class Mean:
    """Mean target error of some jobs with its 95 % interval; no interval for a lone job."""

    jobs: int
    mean_mm: float
    low_mm: float | None
    high_mm: float | None

    @property
    def half_mm(self) -> float | None:
        return None if self.high_mm is None else self.high_mm - self.mean_mm

    @property
    def leans(self) -> str:
        """ "wide", "tight", or "" where the interval holds zero or there is none."""
        if self.low_mm is None or self.high_mm is None:
            return ""
        if self.low_mm > 0:
            return "wide"
        return "tight" if self.high_mm < 0 else ""


@dataclass(frozen=True)
class Month:
    """The jobs measured in one month of the shop's calendar."""

    month: date
    error: Mean
    inside: int
    signals: int

    @property
    def share_inside(self) -> float:
        return self.inside / self.error.jobs


class Steady(StrEnum):
    """How the running average of the target error stands to its limits."""

    YES = "yes"
    OUTSIDE = "outside"
    JUST_BACK = "just_back"
    THIN = "thin"
    COARSE = "coarse"


@dataclass(frozen=True)
class Steadiness:
    """since: the job that began the present run inside or outside; left_at: the job at which the
    average last left its limits, where it is outside or just back. jobs_wanted: where it is thin.
    """

    steady: Steady
    since: JobPoint | None = None
    left_at: JobPoint | None = None
    jobs_wanted: int = 0


@dataclass(frozen=True, eq=False)
class AccuracyPage:
    """`lathe` None is the whole shop. lately: the last jobs together. leaning_since: the first
    month of the unbroken run, up to now, of months that lean as the last jobs do; None where the
    newest month does not.
    promise: of the jobs since the shop has been steady; None while it is not.
    tolerance_mm: the narrowest below and above target among the jobs, None without jobs.
    """

    lathe: Lathe | None
    lathes: Sequence[Lathe]
    points: Sequence[JobPoint]
    months: Sequence[Month]
    lately: Mean | None
    lately_inside: int
    last_outside: JobPoint | None
    leaning_since: date | None
    steady: Steadiness
    promise: ShopCapability | None
    charts: dict[Channel, ErrorChart]
    signals: Sequence[Signal]
    pace: str | None
    tolerance_mm: tuple[float, float] | None


def accuracy_page(*, lathe: Lathe | None, zone: tzinfo, now: datetime) -> AccuracyPage:
    """What the page of the whole shop or of one lathe shows; months by the calendar of `zone`."""
    points = points_of(lathe)
    charts = {channel: error_chart(channel, lathe=lathe, points=points) for channel in Channel}
    signals = list(
        Signal.objects.filter(lathe=lathe, withdrawn_at=None).select_related("round", "lathe")
    )
    months = months_of(points, signals, zone=zone)
    last = points[-LATELY:]
    lately = _mean(last) if len(last) >= FEWEST_FOR_A_MEAN else None
    policy = shop_policy()
    steady = steadiness(charts[Channel.TARGET_ERROR])
    return AccuracyPage(
        lathe=lathe,
        lathes=list(Lathe.objects.order_by("name")),
        points=points,
        months=months,
        lately=lately,
        lately_inside=sum(one.is_inside for one in last),
        last_outside=next((one for one in reversed(points) if not one.is_inside), None),
        leaning_since=_leaning_since(months, lately),
        steady=steady,
        promise=_promise(points, steady),
        charts=charts,
        signals=signals[:SIGNALS_LISTED],
        pace=false_signal_pace(policy, [one.at for one in points], now=now),
        tolerance_mm=_narrowest(points),
    )


def points_of(lathe: Lathe | None) -> list[JobPoint]:
    """Every measured job of the shop or of one lathe, in cutting order."""
    return [one for one in job_points() if lathe is None or one.lathe_id == lathe.pk]


def _promise(points: Sequence[JobPoint], steady: Steadiness) -> ShopCapability | None:
    if steady.steady != Steady.YES or steady.since is None:
        return None
    since = [one.round_id for one in points].index(steady.since.round_id)
    return shop_capability(points[since:], CapabilityWish())


def _mean(points: Sequence[JobPoint]) -> Mean:
    """The interval is Student's, from the jobs' own scatter, whatever its cause."""
    errors = np.array([one.target_error_mm for one in points])
    mean = float(errors.mean())
    if errors.size < 2:
        return Mean(errors.size, mean, None, None)
    half = combine([mean_u(errors)], [errors.size - 1], coverage=CONFIDENCE).expanded_mm
    return Mean(errors.size, mean, mean - half, mean + half)


def months_of(
    points: Sequence[JobPoint], signals: Sequence[Signal], *, zone: tzinfo
) -> list[Month]:
    """Months with jobs, oldest first. A month's signals are those of the jobs measured in it."""
    fired = {one.round_id for one in signals}
    months = []
    for month, group in groupby(
        points, key=lambda one: one.at.astimezone(zone).date().replace(day=1)
    ):
        own = list(group)
        months.append(
            Month(
                month=month,
                error=_mean(own),
                inside=sum(one.is_inside for one in own),
                signals=sum(one.round_id in fired for one in own),
            )
        )
    return months


def _leaning_since(months: Sequence[Month], lately: Mean | None) -> date | None:
    if lately is None:
        return None
    run = list(takewhile(lambda one: one.error.leans == lately.leans, reversed(months)))
    return run[-1].month if run else None


def steadiness(chart: ErrorChart) -> Steadiness:
    """Departures fewer than SETTLED jobs apart are one: an average near its limit flickers."""
    if chart.ewma is None or chart.individuals is None:
        return Steadiness(Steady.THIN, jobs_wanted=chart.jobs_wanted)
    if chart.individuals.limits.is_zero_width:
        return Steadiness(Steady.COARSE)
    jobs, outside = chart.jobs, np.flatnonzero(chart.ewma.signal)
    if not outside.size:
        return Steadiness(Steady.YES, since=jobs[0])
    last = int(outside[-1])
    begins = np.flatnonzero(np.diff(outside) > SETTLED)
    left_at = jobs[int(outside[begins[-1] + 1] if begins.size else outside[0])]
    if last == len(jobs) - 1:
        return Steadiness(Steady.OUTSIDE, since=left_at, left_at=left_at)
    back = jobs[last + 1]
    if len(jobs) - 1 - last < SETTLED:
        return Steadiness(Steady.JUST_BACK, since=back, left_at=left_at)
    return Steadiness(Steady.YES, since=back)


def _narrowest(points: Sequence[JobPoint]) -> tuple[float, float] | None:
    if not points:
        return None
    return min(one.tol_minus_mm for one in points), min(one.tol_plus_mm for one in points)
