"""The months: mean target error, share inside tolerance and signals, added up by the database."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo

import numpy as np
from django.db.models import Avg, Case, Count, Exists, F, OuterRef, Q, QuerySet, StdDev, Value, When

from qc.models import JobResult, Signal
from qc.numerics.uncertainty import combine, mean_u

# So many at a time are told, the newest job's among them.
MONTHS = 18
CONFIDENCE = 0.95
INSIDE = Q(
    target_error_mm__gte=-F("round__job__tol_minus_mm"),
    target_error_mm__lte=F("round__job__tol_plus_mm"),
)


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
    """The jobs measured in one month of the shop's calendar. signals: jobs that made one."""

    month: date
    error: Mean
    inside: int
    signals: int

    @property
    def share_inside(self) -> float:
        return self.inside / self.error.jobs


def mean_of(errors: Sequence[float]) -> Mean:
    """Of one job or more."""
    u = mean_u(errors) if len(errors) > 1 else 0.0
    return _mean(len(errors), float(np.mean(errors)), u)


def months_of(
    results: QuerySet[JobResult],
    signals: QuerySet[Signal],
    *,
    zone: tzinfo,
    until: date | None = None,
) -> list[Month]:
    """The last MONTHS of the calendar of `zone` up to the newest job's, oldest first, without those
    that have no job. until: a day of the last month to tell of."""
    if until is not None:
        results = results.filter(measured_at__lt=month_after(until, zone=zone))
    newest = results.reverse().values_list("measured_at", flat=True).first()
    if newest is None:
        return []
    months = _back_from(newest.astimezone(zone).date())
    starts = [begins(one, zone=zone) for one in months]
    rows = (
        results.order_by()
        .filter(measured_at__gte=starts[-1])
        .annotate(
            ago=Case(*(When(measured_at__gte=at, then=Value(n)) for n, at in enumerate(starts)))
        )
        .values("ago")
        .annotate(
            jobs=Count("pk"),
            mean=Avg("target_error_mm"),
            sd=StdDev("target_error_mm"),
            inside=Count("pk", filter=INSIDE),
            signals=Count("pk", filter=Exists(signals.filter(round=OuterRef("round")))),
        )
        .order_by("-ago")
    )
    return [
        Month(
            month=months[row["ago"]],
            # The database's standard deviation is that of these jobs alone, by their number.
            error=_mean(row["jobs"], row["mean"], row["sd"] / math.sqrt(max(row["jobs"] - 1, 1))),
            inside=row["inside"],
            signals=row["signals"],
        )
        for row in rows
    ]


def month_before(
    results: QuerySet[JobResult], months: Sequence[Month], *, zone: tzinfo
) -> date | None:
    """The first day of the last month before those told that has any of these jobs."""
    if not months:
        return None
    older = results.filter(measured_at__lt=begins(months[0].month, zone=zone))
    newest = older.reverse().values_list("measured_at", flat=True).first()
    return None if newest is None else newest.astimezone(zone).date().replace(day=1)


def begins(month: date, *, zone: tzinfo) -> datetime:
    return datetime.combine(month, time.min, tzinfo=zone)


def month_after(day: date, *, zone: tzinfo) -> datetime:
    """When the month after that of this day begins."""
    return begins((day.replace(day=1) + timedelta(days=31)).replace(day=1), zone=zone)


def _back_from(newest: date) -> list[date]:
    """The first days of the last MONTHS, newest first."""
    count = 12 * newest.year + newest.month - 1
    return [date((count - n) // 12, (count - n) % 12 + 1, 1) for n in range(MONTHS)]


def _mean(jobs: int, mean: float, u: float) -> Mean:
    """The interval is Student's, from the jobs' own scatter, whatever its cause."""
    if jobs < 2:
        return Mean(jobs, mean, None, None)
    half = combine([u], [jobs - 1], coverage=CONFIDENCE).expanded_mm
    return Mean(jobs, mean, mean - half, mean + half)
