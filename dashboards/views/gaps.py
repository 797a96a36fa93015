"""As-found and achieved readings."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from dashboards.clock import engine_clock
from dashboards.forms.bench import start_of
from dashboards.forms.gaps import USUAL, AchievedForm, AsFoundForm, GapForm, usual_answers
from dashboards.refusals import saved
from dashboards.views.ground import page
from dashboards.views.steps import go_on, readings_form, show_step
from qc import access
from qc.actor import Actor
from qc.lookups.record.jobs import job_record
from qc.lookups.record.progress import BenchStep
from qc.models import Role
from qc.operations import readings


@page("jobs", role=Role.OPERATOR, to="record readings")
def as_found(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    return _gaps(request, by, number, AsFoundForm, BenchStep.AS_FOUND, to="plan")


@page("jobs", role=Role.OPERATOR, to="record readings")
def achieved(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    return _gaps(request, by, number, AchievedForm, BenchStep.ACHIEVED, to="verdict")


def _gaps(
    request: HttpRequest,
    by: Actor,
    number: int,
    kind: type[GapForm],
    step: BenchStep,
    *,
    to: str,
) -> HttpResponse:
    now = timezone.now()
    job = access.job(number)
    usual = {**start_of(job), **usual_answers(job_record(job), kind.kind, by.person)}
    form = readings_form(
        request, kind, initial=usual, on=timezone.localdate(now), unit=by.person.unit
    )

    def save() -> None:
        readings.record_gap_readings(
            job=job,
            kind=kind.kind,
            gauge=access.gauge(form.cleaned_data["gauge"]),
            measured_by=access.person(form.cleaned_data["measured_by"]),
            by=by,
            at=now,
            expected_version=form.expected_version,
            **form.values(),
        )

    if saved(form, save):
        return go_on(request, by, form, f"{kind.told} readings.", to=to, number=number)
    clock = engine_clock({at: f"{at}°" for at in USUAL})
    return show_step(request, job, step, form, {"clock": clock})
