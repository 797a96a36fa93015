"""Today: what needs someone."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from dashboards.views.ground import page, show
from qc.actor import Actor
from qc.lookups.pages.today import today_page
from qc.models import Role


@page("today")
def today(request: HttpRequest, by: Actor) -> HttpResponse:
    found = today_page(now=timezone.now(), today=timezone.localdate(), by=by)
    context = {"today": found, "is_lead": by.may(Role.LEAD), "may_record": by.may(Role.OPERATOR)}
    return show(request, "dashboards/today.html", context)
