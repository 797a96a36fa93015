"""Corrections that keep the old entry, added readings, and steps left out with a reason."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone

from dashboards.forms.bench import StepForm, start_of
from dashboards.forms.corrections import AddForm, LimitsForm, ReasonForm, VoidForm
from dashboards.forms.fields import as_typed
from dashboards.refusals import saved
from dashboards.views.ground import page, show
from dashboards.views.steps import conflict, go_on, job_facts, readings_form, step_form
from qc import access
from qc.actor import Actor
from qc.errors import NotThere
from qc.lookups.record.progress import SKIPS, BenchStep
from qc.models import GAP_KINDS, Job, Role
from qc.operations import closing, lathe_passes, planning, readings, steps
from qc.operations.limits import correct_limits
from qc.operations.pieces import next_spots

Told = Mapping[str, Any]
LIMITS = ("target", "tol_minus", "tol_plus")


@page("jobs", role=Role.OPERATOR, to="record a job")
def skip(request: HttpRequest, by: Actor, number: int, step: str) -> HttpResponse:
    job = access.job(number)
    if step not in SKIPS:
        raise NotThere(what="step to skip")
    left_out = SKIPS[BenchStep(step)]
    form = step_form(request, ReasonForm, job, by, {})
    do = partial(steps.skip_step, job=job, step=left_out)
    told = {
        "title": f"Skip {left_out.label}",
        "says": f"The record will say that {left_out.label} was left out, who said so, and why.",
        "button": "Skip it",
        "back_to": step,
    }
    return _answer(request, by, job, form, do, told, "The step is left out.")


@page("jobs", role=Role.OPERATOR, to="record a job")
def parts_changed(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    job = access.job(number)
    form = step_form(request, ReasonForm, job, by, {})
    do = partial(planning.note_parts_changed, job=job)
    told = {
        "title": "A part of the engine changed",
        "says": (
            "A piston, rod, head, head gasket or crankcase that changed moves the gap by itself. "
            "The as-found readings no longer describe this engine: take them again before a plan."
        ),
        "button": "As-found must be taken again",
        "back_to": "plan",
    }
    return _answer(request, by, job, form, do, told, "Take as-found again.", to=BenchStep.AS_FOUND)


@page("jobs", role=Role.OPERATOR, to="correct a job's target")
def limits(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    job = access.job(number)
    unit = by.person.unit
    so_far = {name: as_typed(getattr(job, f"{name}_mm"), unit) for name in LIMITS}
    form = step_form(request, LimitsForm, job, by, so_far)
    do = partial(correct_limits, job=job)
    told = {
        "title": "Correct target and tolerance",
        "says": (
            "Until the first cut. The journal keeps what they were, with your reason; a plan made "
            "for another target has to be worked out again."
        ),
        "button": "Correct them",
    }
    typed = (*LIMITS, "why", "confirm")
    return _answer(request, by, job, form, do, told, "Target and tolerance.", typed=typed)


@page("jobs", role=Role.OPERATOR, to="drop a job")
def drop(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    job = access.job(number)
    form = step_form(request, ReasonForm, job, by, {})
    do = partial(closing.drop, job=job)
    told = {
        "title": "Drop this job",
        "says": (
            "For a job opened by mistake, of which nothing is cut. It is closed; what was recorded "
            "stays on the record, with your reason."
        ),
        "button": "Drop the job",
    }
    return _answer(request, by, job, form, do, told, "The job is dropped.")


@page("jobs", role=Role.OPERATOR, to="void a reading")
def void_reading(request: HttpRequest, by: Actor, number: int, key: int) -> HttpResponse:
    job = access.job(number)
    reading = access.reading(key, of=job)
    form = step_form(request, VoidForm, job, by, {"unit": reading.entered_unit})
    do = partial(readings.void_reading, reading=reading)
    told = {
        "title": "Void a reading",
        "entered": (reading.entered_value, reading.entered_unit),
        "where": reading,
        "says": "The reading stays on the record, struck through, with your reason beside it.",
        "button": "Void the reading",
    }
    return _answer(
        request,
        by,
        job,
        form,
        do,
        told,
        "The reading is void.",
        typed=("why", "replacement", "confirm"),
    )


@page("jobs", role=Role.OPERATOR, to="void a pass")
def void_pass(request: HttpRequest, by: Actor, number: int, key: int) -> HttpResponse:
    job = access.job(number)
    taken = access.taken_pass(key, of=job)
    form = step_form(request, VoidForm, job, by, {"unit": taken.entered_unit})
    do = partial(lathe_passes.void_pass, taken=taken)
    told = {
        "title": f"Void pass {taken.number}",
        "entered": (taken.entered_value, taken.entered_unit),
        "says": "The pass stays on the record, struck through, with your reason beside it.",
        "button": "Void the pass",
    }
    return _answer(
        request, by, job, form, do, told, "The pass is void.", typed=("why", "replacement")
    )


@page("jobs", role=Role.OPERATOR, to="record readings")
def add(request: HttpRequest, by: Actor, number: int, key: int) -> HttpResponse:
    job = access.job(number)
    taken = access.reading_set(key, of=job)
    if taken.kind not in GAP_KINDS:
        raise NotThere(what="reading set")
    unit = by.person.unit
    form = readings_form(
        request, AddForm, initial={**start_of(job), "unit": unit, "what": "piece"}, unit=unit
    )

    def do(**how: Any) -> None:
        again = form.cleaned_data["what"] == "crush"
        spots = next_spots(taken, form.cleaned_data["readings"], again=again)
        readings.add_readings(reading_set=taken, readings=spots, **how)

    told = {
        "title": f"Add to the {taken.get_kind_display()} readings",
        "says": (
            f"With {taken.gauge}, the gauge the set was read with. One piece crushed several times "
            "counts by its thinnest reading; several pieces at one position are averaged."
        ),
        "button": "Add them",
    }
    return _answer(
        request, by, job, form, do, told, "The readings are added to the set.", typed=("confirm",)
    )


def _answer(
    request: HttpRequest,
    by: Actor,
    job: Job,
    form: StepForm,
    do: Callable[..., object],
    told: Told,
    sentence: str,
    *,
    typed: Sequence[str] = ("why",),
    to: str = "job",
) -> HttpResponse:
    """do: takes the fields named by `typed`, `by`, `at` and `expected_version`."""

    def save() -> None:
        entered = {name: form.cleaned_data[name] for name in typed}
        do(by=by, at=timezone.now(), expected_version=form.expected_version, **entered)

    if saved(form, save):
        return go_on(request, by, form, sentence, to=to, number=job.pk)
    facts = job_facts(job.pk, by)
    back = reverse(f"dashboards:{told.get('back_to', 'job')}", args=[job.pk])
    context = {**facts, **told, "back_url": back, **conflict(form, facts["job"])}
    return show(request, "dashboards/jobs/correction.html", context, form=form)
