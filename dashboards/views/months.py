"""Month by month: means, drift and shifts of target error and of spread."""

from __future__ import annotations

from datetime import date
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.timezone import localtime

from dashboards.figures.accuracy import accuracy_over_months_table
from dashboards.figures.rows import SpreadOverTime
from dashboards.figures.shifts import (
    levels_table,
    shift_sentence,
    spread_over_time,
    trend_sentence,
)
from dashboards.views.accuracy_drawings import ERROR_WAYS, levels, marks, months_rows
from dashboards.views.drawn import drawn
from dashboards.views.ground import page, show
from qc import access
from qc.actor import Actor
from qc.lookups.charts.shifts import (
    Shifts,
    spread_shifts,
    target_error_shifts,
)
from qc.lookups.pages.accuracy import (
    AccuracyPage,
    accuracy_page,
    points_of,
    told_of,
)
from qc.lookups.pages.fixture_page import label
from qc.models import Lathe

SPREAD_WAYS = ("more", "less")


@page("accuracy")
def months(request: HttpRequest, by: Actor) -> HttpResponse:
    lathe, unit = lathe_of(request), by.person.unit
    zone = timezone.get_current_timezone()
    found = accuracy_page(lathe=lathe, zone=zone, now=timezone.now(), until=until_of(request))
    told = told_of(found, by, zone=zone)
    errors, spreads = target_error_shifts(found.points), spread_shifts(found.points)
    context = {
        "page": found,
        "told": told,
        "errors": _told(errors, ERROR_WAYS, unit=unit),
        "spreads": _told(spreads, SPREAD_WAYS, unit=unit),
        "months_table": accuracy_over_months_table(months_rows(found, told), unit=unit),
        "errors_table": levels_table(
            levels(errors), marks(errors, ERROR_WAYS), unit=unit, signed=True
        ),
        "spreads_table": levels_table(
            levels(spreads), marks(spreads, SPREAD_WAYS), unit=unit, signed=False
        ),
        "query": f"?lathe={lathe.pk}" if lathe else "",
        "months_query": _months_query(found),
    }
    return show(request, "dashboards/accuracy/months.html", context)


@page("accuracy")
def spread_figure(request: HttpRequest, by: Actor) -> HttpResponse:
    found = spread_shifts(points_of(lathe_of(request)))
    rows = SpreadOverTime(
        points=tuple(
            (localtime(one.at), label(one.job_id, one.round_number), float(value))
            for one, value in zip(found.jobs, found.values_mm, strict=True)
        ),
        levels=levels(found),
        shifts=marks(found, SPREAD_WAYS),
    )
    return drawn(spread_over_time(rows, unit=by.person.unit))


def lathe_of(request: HttpRequest) -> Lathe | None:
    asked = request.GET.get("lathe")
    return access.lathe(asked) if asked else None


def _months_query(found: AccuracyPage) -> str:
    asked = {} if found.lathe is None else {"lathe": found.lathe.pk}
    until = {} if found.until is None else {"until": f"{found.until:%Y-%m}"}
    return f"?{urlencode(asked | until)}" if asked or until else ""


def until_of(request: HttpRequest) -> date | None:
    """The last month asked for, as in 2026-03; None for the newest, and for what names none."""
    try:
        asked = date.fromisoformat(f"{request.GET.get('until', '')}-01")
    except ValueError:
        return None
    return asked if asked <= timezone.localdate() else None


def _told(found: Shifts, ways: tuple[str, str], *, unit: str) -> dict[str, object]:
    """One quantity in sentences."""
    trend = found.trend and trend_sentence(
        found.trend.slope,
        *found.trend.interval,
        is_seen=found.trend.is_seen,
        up=ways[0],
        down=ways[1],
        unit=unit,
    )
    if trend and found.shifts:
        trend = f"Over the whole time: {trend[0].lower()}{trend[1:]}"
    return {
        "jobs": len(found.jobs),
        "jobs_wanted": found.jobs_wanted,
        "shifts": [shift_sentence(one, unit=unit) for one in marks(found, ways)],
        "trend": trend,
    }
