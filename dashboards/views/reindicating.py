"""A fixture re-indicated at the lathe: the report of who did it, put right or taken back by them,
and a lead's word on it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from dashboards.forms.resources import ReindicationForm, ServiceWordForm
from dashboards.refusals import saved
from dashboards.views.ground import page, sent, show
from qc import access
from qc.actor import Actor
from qc.errors import BadInput, ShopError
from qc.lookups.flags.reindications import waiting
from qc.lookups.flags.suspected import asked_about, is_in_question
from qc.models import Reindication, Role
from qc.operations import reindicating
from qc.operations.reindicating import CONFIRM


@page("fixtures", role=Role.OPERATOR, to="report a re-indication")
def report(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    """`?job=` is the job at which it was done, where a page of that led here."""
    fixture = access.fixture(key)
    job = access.job(request.GET["job"]) if "job" in request.GET else None
    form = ReindicationForm(sent(request), unit=by.person.unit)
    if saved(
        form,
        lambda: reindicating.report(
            fixture=fixture, job=job, by=by, at=timezone.now(), **form.facts()
        ),
    ):
        messages.success(
            request, f"{fixture.name} is reported as re-indicated. A lead confirms it."
        )
        return redirect("dashboards:fixture", key) if job is None else redirect(_page_of(job.pk))
    reported = waiting().filter(fixture=fixture).first()
    context = {"fixture": fixture, "job": job, "reported": reported}
    return show(request, "dashboards/fixtures/report.html", context, form=form)


@page("fixtures", role=Role.OPERATOR, to="report a re-indication")
def correct(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    """What the report says, put right by whoever made it. `?back=` is the page to go back to."""
    reported = access.reindication(key)
    reindicating.of_your_own(reported, by=by)
    unit = by.person.unit
    form = ReindicationForm(
        sent(request), unit=unit, initial=ReindicationForm.starts(reported, unit)
    )
    if saved(
        form,
        lambda: reindicating.correct(reported=reported, by=by, at=timezone.now(), **form.facts()),
    ):
        messages.success(request, "The report is corrected. A lead confirms it.")
        return redirect(_back(request, reported))
    context = {"reported": reported, "back": _back(request, reported)}
    return show(request, "dashboards/fixtures/correct.html", context, form=form)


@require_POST
@page("fixtures", role=Role.OPERATOR, to="report a re-indication")
def take_back(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    reported = access.reindication(key)
    try:
        reindicating.take_back(reported=reported, by=by, at=timezone.now())
        messages.success(request, _told(reported, "as taken back"))
    except BadInput as error:
        messages.error(request, str(error))
    return redirect(_back(request, reported))


@page("fixtures", role=Role.LEAD, to=CONFIRM)
def confirm(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    """Asks what a service of it would ask. `?back=` is the page to go back to."""
    reported = access.reindication(key)
    thing, then = ("fixture", reported.fixture_id), reported.at
    asked = asked_about(*thing, by, done_at=then)
    form = ServiceWordForm(
        sent(request),
        unit=by.person.unit,
        suspected=bool(asked),
        is_in_question=is_in_question(thing, done_at=then),
        initial={"note": reported.note},
    )
    if saved(
        form,
        lambda: reindicating.confirm(reported=reported, by=by, at=timezone.now(), **form.facts()),
    ):
        messages.success(request, _told(reported, f"as a service by {reported.by.name}"))
        return redirect(_back(request, reported))
    context = {"reported": reported, "suspected_by": asked, "back": _back(request, reported)}
    return show(request, "dashboards/fixtures/confirm.html", context, form=form)


@require_POST
@page("fixtures", role=Role.LEAD, to=CONFIRM)
def set_aside(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    reported = access.reindication(key)
    try:
        reindicating.set_aside(reported=reported, by=by, at=timezone.now())
        messages.success(request, _told(reported, "as set aside"))
    except ShopError as error:
        messages.error(request, str(error))
    return redirect(_back(request, reported))


def _told(reported: Reindication, how: str) -> str:
    """With a link to the job at which it was done, where that is known."""
    told = f"That {reported.fixture.name} was re-indicated is on record {how}."
    if reported.job_id is None:
        return told
    job = _page_of(reported.job_id)
    return format_html('{} <a href="{}">Job {}</a>, where it was done.', told, job, reported.job_id)


def _page_of(job_id: int) -> str:
    return reverse("dashboards:job", args=[job_id])


def _back(request: HttpRequest, reported: Reindication) -> str:
    """Where they came from; the fixture's page where that is not said, or is not of ours."""
    asked = request.GET.get("back", "")
    if url_has_allowed_host_and_scheme(asked, allowed_hosts=None):
        return asked
    return reverse("dashboards:fixture", args=[reported.fixture_id])
