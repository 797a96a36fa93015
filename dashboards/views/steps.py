"""What the step pages of a job share: the record beside the form, and two people at one step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from dashboards.forms.bench import StepForm, start_of
from dashboards.forms.readings import ReadingsForm
from dashboards.telling import journal_lines
from dashboards.views.ground import sent, show
from dashboards.views.signing import choose_unit
from qc import access
from qc.actor import Actor
from qc.errors import ChangedMeanwhile
from qc.lookups.flags.suspected import warnings_for
from qc.lookups.flags.trials import trial_of
from qc.lookups.record.jobs import JobRecord, job_record
from qc.lookups.record.journal import entries_since
from qc.lookups.record.progress import (
    BenchStep,
    Standing,
    cut_so_far,
    cutting,
    is_uncut,
    progress,
    standing_passes,
)
from qc.models import Job, Role, State

S = TypeVar("S", bound=StepForm)
R = TypeVar("R", bound=ReadingsForm)

STEP_NAMES = {
    BenchStep.AS_FOUND: "As-found readings",
    BenchStep.PLAN: "Plan",
    BenchStep.SET_UP: "Set-up",
    BenchStep.INDICATE: "Indicating",
    BenchStep.TOUCH_OFF: "Touch-off",
    BenchStep.PASSES: "Passes",
    BenchStep.ACHIEVED: "Achieved readings",
    BenchStep.VERDICT: "Verdict",
}


@dataclass(frozen=True)
class StepLink:
    """A step as the page lists it. `standing`: done, skipped, next, later or not done."""

    step: BenchStep
    name: str
    url: str
    standing: Standing
    is_open: bool


def state_words(record: JobRecord) -> str:
    """The job's state as people say it, with the passes taken while it is being cut."""
    so_far = cut_so_far(record.job.state, record.newest)
    if so_far is None:
        return str(record.job.get_state_display())
    return f"being cut, pass {so_far[0]} of {so_far[1]} taken"


def job_facts(number: int, by: Actor) -> dict[str, Any]:
    """The job as it is in the database now, whatever a refused save did to the row in hand, and
    what open flags warn of."""
    record = job_record(access.job(number))
    links = [
        StepLink(
            row.step,
            STEP_NAMES[row.step],
            reverse(f"dashboards:{row.step}", args=[number]),
            row.standing,
            row.is_open,
        )
        for row in progress(record)
    ]
    return {
        "record": record,
        "job": record.job,
        "newest": record.newest,
        "state_words": state_words(record),
        "is_uncut": is_uncut(record.job.state, record.newest.round),
        "is_lead": by.may(Role.LEAD),
        "warned": [] if record.job.is_closed else warnings_for(record.newest.round, by),
        "trial": None if record.job.is_closed else trial_of(record.newest.round, by),
        "cutting": cutting(record.job, record.newest),
        "steps": links,
        "next": next((one for one in links if one.standing == Standing.NEXT), None),
    }


def show_step(
    request: HttpRequest,
    job: Job,
    step: BenchStep,
    form: StepForm,
    context: Mapping[str, Any] | None = None,
) -> HttpResponse:
    """The page of one step; the form's own unit is the page's, so that both speak alike."""
    facts = job_facts(job.pk, Actor(request.user))  # type: ignore[arg-type]
    here = next(one for one in facts["steps"] if one.step == step)
    facts |= {"here": here, "unit": str(form.unit)}
    if job.state == State.CUT and not here.is_open:
        facts["in_the_way"] = standing_passes(facts["newest"])
    facts |= conflict(form, facts["job"])
    template = f"dashboards/jobs/steps/{step}.html"
    return show(request, template, {**facts, **(context or {})}, form=form)


def conflict(form: StepForm, job: Job) -> dict[str, Any]:
    """What others wrote since the form was opened, where that is what stopped the save."""
    if not isinstance(getattr(form, "refusal", None), ChangedMeanwhile):
        return {}
    seen = form.cleaned_data["seen"]
    return {"changes": journal_lines(entries_since(job, seen)), "version_now": job.version}


def readings_form(
    request: HttpRequest, kind: type[R], *, initial: Mapping[str, Any], **options: Any
) -> R:
    """The form as sent; or, where a button asked for more boxes, as typed so far and unchecked."""
    wish = request.POST.get("more")
    if request.method == "POST" and not wish:
        return kind(request.POST, **options)
    typed = kind.typed_so_far(request.POST, wish=wish) if wish else initial
    form = kind(initial=typed, **options)
    form.focus()
    return form


def step_form(
    request: HttpRequest, kind: type[S], job: Job, by: Actor, initial: Mapping[str, Any]
) -> S:
    unit = by.person.unit
    return kind(sent(request), unit=unit, initial={**start_of(job), "unit": unit, **initial})


def go_on(
    request: HttpRequest, by: Actor, form: StepForm, sentence: str, *, to: str, number: int
) -> HttpResponse:
    """After a save: say so, keep the unit the person chose, and show the page that follows."""
    if "unit" in form.fields:
        choose_unit(by, form.cleaned_data["unit"])
    messages.success(request, sentence)
    return redirect(f"dashboards:{to}", number)
