"""The months: on target, steady, inside tolerance, for the shop and for each lathe."""

from __future__ import annotations

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from dashboards.figures.accuracy import accuracy_over_months, accuracy_over_months_table
from dashboards.figures.individuals import individuals_and_ewma, individuals_and_ewma_table
from dashboards.views.accuracy_drawings import chart_rows, months_rows
from dashboards.views.drawn import drawn
from dashboards.views.ground import page, show
from dashboards.views.months import until_of
from qc import access
from qc.actor import Actor
from qc.lookups.pages.accuracy import (
    AccuracyPage,
    accuracy_page,
    told_of,
)
from qc.models import Channel


@page("accuracy")
def accuracy(request: HttpRequest, by: Actor) -> HttpResponse:
    found = _found(request)
    told = told_of(found, by, zone=timezone.get_current_timezone())
    table = accuracy_over_months_table(months_rows(found, told), unit=by.person.unit)
    context = {"page": found, "told": told, "months_table": table, "query": _query(found)}
    return show(request, "dashboards/accuracy/accuracy.html", context)


@page("accuracy")
def jobs(request: HttpRequest, by: Actor) -> HttpResponse:
    """Both charts job by job, and what they signalled."""
    found, unit = _found(request), by.person.unit
    charts = [
        (channel, individuals_and_ewma_table(chart_rows(found.charts[channel]), unit=unit))
        for channel in Channel
    ]
    context = {"page": found, "charts": charts, "query": _query(found)}
    return show(request, "dashboards/accuracy/jobs.html", context)


@page("accuracy")
def months_figure(request: HttpRequest, by: Actor) -> HttpResponse:
    found = _found(request, until=until_of(request))
    told = told_of(found, by, zone=timezone.get_current_timezone())
    return drawn(accuracy_over_months(months_rows(found, told), unit=by.person.unit))


@page("accuracy")
def chart_figure(request: HttpRequest, by: Actor, channel: Channel) -> HttpResponse:
    chart = _found(request).charts[channel]
    return drawn(individuals_and_ewma(chart_rows(chart), unit=by.person.unit))


def _found(request: HttpRequest, *, until: date | None = None) -> AccuracyPage:
    asked = request.GET.get("lathe")
    return accuracy_page(
        lathe=access.lathe(asked) if asked else None,
        zone=timezone.get_current_timezone(),
        now=timezone.now(),
        until=until,
    )


def _query(found: AccuracyPage) -> str:
    return f"?lathe={found.lathe.pk}" if found.lathe else ""
