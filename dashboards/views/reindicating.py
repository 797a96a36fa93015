"""A fixture re-indicated at the lathe: the report of who did it, and a lead's word on it."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from dashboards.forms.resources import ReindicationForm
from dashboards.refusals import saved
from dashboards.views.ground import page, sent, show
from qc import access
from qc.actor import Actor
from qc.errors import ShopError
from qc.lookups.flags.reindications import waiting
from qc.models import Role
from qc.operations import reindicating
from qc.shown import SHOWN

CONFIRM = "confirm a re-indication"


@page("fixtures", role=Role.OPERATOR, to="report a re-indication")
def report(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    fixture = access.fixture(key)
    form = ReindicationForm(sent(request), unit=by.person.unit)
    if saved(
        form,
        lambda: reindicating.report(fixture=fixture, by=by, at=timezone.now(), **form.facts()),
    ):
        messages.success(
            request, f"{fixture.name} is reported as re-indicated. A lead confirms it."
        )
        return redirect("dashboards:fixture", key)
    context = {"fixture": fixture, "reported": waiting().filter(fixture=fixture).first()}
    return show(request, "dashboards/fixtures/report.html", context, form=form)


@require_POST
@page("fixtures", role=Role.LEAD, to=CONFIRM)
def confirm(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    told = "It is recorded as a service of when it was done."
    return _answered(request, by, key, reindicating.confirm, told)


@require_POST
@page("fixtures", role=Role.LEAD, to=CONFIRM)
def set_aside(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    return _answered(request, by, key, reindicating.set_aside, "The report is set aside.")


def _answered(
    request: HttpRequest, by: Actor, key: int, answer: Callable[..., object], told: str
) -> HttpResponse:
    reported = access.reindication(key)
    try:
        answer(reported=reported, by=by, at=timezone.now())
        messages.success(request, told)
    except ShopError as error:
        messages.error(request, error.told(length=SHOWN[by.person.unit].text))
    return redirect("dashboards:fixture", reported.fixture_id)
