"""The fixtures: where each stands, and one fixture's page with its drawings."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from dashboards.figures.lanes import time_lanes, time_lanes_table
from dashboards.figures.tilt import tilt_clock, tilt_clock_table
from dashboards.views.drawn import drawn
from dashboards.views.fixture_drawings import clock_rows, lane_rows
from dashboards.views.ground import page, show
from qc import access
from qc.actor import Actor
from qc.lookups.flags.reindications import waiting
from qc.lookups.pages.fixture_page import fixture_page
from qc.lookups.pages.fixtures import (
    FixtureRow,
    FixtureStanding,
    fixture_rows,
)
from qc.lookups.pages.stands import Stands, stands
from qc.models import Role

JOBS_LISTED = 25


@page("fixtures")
def fixtures(request: HttpRequest, by: Actor) -> HttpResponse:
    context = {"rows": fixture_rows(), "is_lead": by.may(Role.LEAD)}
    return show(request, "dashboards/fixtures/list.html", context)


@page("fixtures")
def fixture(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    found = fixture_page(access.fixture(key), now=timezone.now(), by=by)
    newest = found.jobs[::-1]
    told = stands("fixture", key, by)
    context = {
        "page": found,
        "reported": waiting().filter(fixture=found.fixture).first(),
        "stands": told,
        "standing": _standing(found.row, told),
        "jobs": newest[:JOBS_LISTED],
        "jobs_unlisted": max(0, len(newest) - JOBS_LISTED),
        "clock_table": tilt_clock_table(clock_rows(found), unit=by.person.unit),
        "lanes_table": time_lanes_table(lane_rows(found), unit=by.person.unit),
        "may_record": by.may(Role.OPERATOR),
        "is_lead": by.may(Role.LEAD),
    }
    return show(request, "dashboards/fixtures/fixture.html", context)


def _standing(row: FixtureRow, told: Stands) -> FixtureStanding:
    """As its list says, but for how thin its baseline is: that the page asks the watch."""
    if not told.known or row.standing not in (FixtureStanding.THIN, FixtureStanding.QUIET):
        return row.standing
    return FixtureStanding.THIN if told.is_thin else FixtureStanding.QUIET


@page("fixtures")
def clock_figure(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    found = fixture_page(access.fixture(key), now=timezone.now(), by=by)
    return drawn(tilt_clock(clock_rows(found), unit=by.person.unit))


@page("fixtures")
def lanes_figure(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    found = fixture_page(access.fixture(key), now=timezone.now(), by=by)
    return drawn(time_lanes(lane_rows(found), unit=by.person.unit))
