"""The months' page as rows of its drawings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import date, datetime

from django.utils.timezone import localtime

from dashboards.figures.rows import (
    AccuracyOverMonths,
    Band,
    ChartPoint,
    ChartStretch,
    FlagTick,
    IndividualsChart,
    JobMiss,
    LevelSpan,
    MonthMean,
    MonthTally,
    ServiceTick,
    ShiftMark,
)
from qc.lookups.charts.error_charts import ErrorChart
from qc.lookups.charts.shifts import Shifts, target_error_shifts
from qc.lookups.pages.accuracy import AccuracyPage
from qc.lookups.pages.fixture_page import label
from qc.lookups.pages.months import Month
from qc.lookups.pages.months_tally import Told
from qc.models import Channel, Rule

# A drawing stays legible and quick up to so many jobs; older ones are in the record.
NEWEST = 400
MONTHS = 18
ERROR_WAYS = ("wider", "tighter")


def months_rows(page: AccuracyPage, told: Told) -> AccuracyOverMonths:
    """The last months, with the single jobs, flags and services of the same time."""
    months = page.months[-MONTHS:]
    low, high = page.tolerance_mm or (None, None)
    found = target_error_shifts(page.points)
    return AccuracyOverMonths(
        misses=tuple(
            JobMiss(localtime(one.at), label(one.job_id, one.round_number), one.target_error_mm)
            for one in page.points
            if months and _is_within(one.at, months, until=page.until)
        ),
        months=tuple(
            MonthMean(
                month=one.month,
                jobs=one.error.jobs,
                mean_mm=one.error.mean_mm,
                interval=Band(one.error.low_mm, one.error.high_mm),
                share_inside=one.share_inside,
            )
            for one in months
        ),
        tolerance=Band(None if low is None else -low, high),
        levels=levels(found),
        shifts=marks(found, ERROR_WAYS),
        tallies=tuple(MonthTally(month, **asdict(one)) for month, one in told.by_month.items()),
        services=tuple(
            ServiceTick(localtime(one.at), f"{one.subject.name} {one.get_kind_display()}")
            for one in told.services
        ),
        flags=tuple(
            FlagTick(localtime(one.flag.raised_at), f"{one.title} ({one.ended})")
            for one in told.raised
        ),
    )


def _is_within(at: datetime, months: Sequence[Month], *, until: date | None) -> bool:
    """Months drawn up to the newest job have no end."""
    month = localtime(at).date().replace(day=1)
    return month >= months[0].month and (until is None or month <= months[-1].month)


def levels(found: Shifts) -> tuple[LevelSpan, ...]:
    return tuple(
        LevelSpan(localtime(one.since), localtime(one.until), one.jobs, one.mean_mm)
        for one in found.levels
    )


def marks(found: Shifts, ways: tuple[str, str]) -> tuple[ShiftMark, ...]:
    """ways: what a step up and a step down are called."""
    return tuple(
        ShiftMark(
            at=localtime(one.job.at),
            earliest=None if one.earliest is None else localtime(one.earliest.at),
            latest=None if one.latest is None else localtime(one.latest.at),
            step_mm=one.step_mm,
            toward=ways[0] if one.step_mm > 0 else ways[1],
        )
        for one in found.shifts
    )


def chart_rows(chart: ErrorChart) -> IndividualsChart:
    """The newest jobs, numbered as the whole chart numbers them."""
    begins = max(chart.settled_at, len(chart.jobs) - NEWEST)
    numbers = range(begins, len(chart.jobs))
    return IndividualsChart(
        quantity=str(Channel(chart.channel).label).capitalize(),
        points=tuple(_point(chart, number) for number in numbers),
        stretches=_stretches(chart, begins),
        note=_note(chart),
    )


def _point(chart: ErrorChart, at: int) -> ChartPoint:
    job = chart.jobs[at]
    error = job.target_error_mm if chart.channel == Channel.TARGET_ERROR else job.height_error_mm
    assert error is not None  # error_chart takes only jobs that have one
    point = ChartPoint(
        number=chart.jobs_before + at + 1,
        at=localtime(job.at),
        job=label(job.job_id, job.round_number),
        value_mm=error,
        average_mm=None,
        average_limits=None,
    )
    ewma = chart.ewma
    if ewma is None or chart.individuals is None:
        return point
    return replace(
        point,
        average_mm=float(ewma.z[at]),
        average_limits=Band(float(ewma.lower[at]), float(ewma.upper[at])),
        signal=Rule.INDIVIDUALS.label if chart.individuals.beyond[at] else None,
        average_signal=Rule.EWMA.label if ewma.signal[at] else None,
    )


def _stretches(chart: ErrorChart, begins: int) -> tuple[ChartStretch, ...]:
    if chart.individuals is None or not len(chart.jobs):
        return ()
    limits, before = chart.individuals.limits, chart.jobs_before
    return (
        ChartStretch(
            before + begins + 1,
            before + len(chart.jobs),
            limits.centre,
            Band(limits.lower, limits.upper),
        ),
    )


def _note(chart: ErrorChart) -> str | None:
    if chart.individuals is None:
        return f"baseline still thin: {chart.jobs_wanted} more jobs"
    if chart.individuals.limits.is_zero_width:
        return "the gauge is too coarse to judge by"
    return None
