"""At the lathe: set-up, indicating, touch-off and passes."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from dashboards.clock import engine_clock
from dashboards.forms.bench import start_of
from dashboards.forms.lathe import (
    CARRIAGE,
    COMPOUND,
    LATHES_OWN,
    TAKE,
    CorrectionForm,
    IndicateForm,
    PassForm,
    SetUpForm,
    TouchOffForm,
    even_angles,
)
from dashboards.refusals import refusal_of, saved
from dashboards.views.ground import page
from dashboards.views.lathe_drawings import (
    at_the_dial,
    indicated_so_far,
    over_limit,
    suggestion,
    suspecting,
)
from dashboards.views.steps import go_on, readings_form, show_step, step_form
from qc import access
from qc.actor import Actor
from qc.lookups.flags.apart_words import does
from qc.lookups.flags.lines import FlagLine
from qc.lookups.flags.telling_apart import Apart, telling_apart
from qc.lookups.flags.told import flag_line
from qc.lookups.flags.visible import anybody
from qc.lookups.pages.choices import gauge_last_indicated
from qc.lookups.record.jobs import RoundRecord, job_record
from qc.lookups.record.progress import BenchStep, passes_left
from qc.lookups.watch.watch_now import watch_now
from qc.models import Kind, Person, Role
from qc.operations import correcting, lathe_passes, lathe_work, setting_up

TOUCH_OFF = ("unit", "dial", "paper")
# What a flag's page may ask of a set-up.
SET_UP = ("fixture", "clocking", "edge")
INDICATED_SAYS = {
    (True, True): "Indicated before tightening.",
    (True, False): "Now tighten, and indicate again.",
    (False, True): "Indicated after tightening.",
    (False, False): "Indicated after tightening.",
}
CLOCK = {0: "0° exhaust", 90: "90°", 180: "180°", 270: "270°"}


@page("jobs", role=Role.OPERATOR, to="record a job")
def set_up(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    job = access.job(number)
    newest = job_record(job).newest
    asked = {name: request.GET[name] for name in SET_UP if name in request.GET}
    clocked = {"not_clocked": False} if "clocking" in asked else {}
    so_far = _set_up_so_far(newest, by.person) | asked | clocked
    form = step_form(request, SetUpForm, job, by, so_far)
    form.offer_fixtures(job.cylinder.family)
    flag = request.GET.get("flag")
    asks = None if flag is None else flag_line(access.flag(flag, by=by), by)

    def save() -> None:
        told = form.cleaned_data
        edge = access.edge(told["edge"])
        setting_up.record_set_up(
            job=job,
            fixture=access.fixture(told["fixture"]),
            lathe=edge.lathe,
            edge=edge,
            clocking_deg=told["clocking"],
            operator=access.person(told["operator"]),
            dial_factor=form.factor(),
            confirm=form.cleaned_data["confirm"],
            by=by,
            at=timezone.now(),
            expected_version=form.expected_version,
            tells_apart=None if asks is None else asks.flag,
            asked="" if asks is None else _asked(asks, asked),
        )

    if saved(form, save):
        return go_on(request, by, form, "The set-up.", to="indicate", number=number)
    clocking = newest.round.clocking_deg
    clock = engine_clock(
        CLOCK, from_tailstock=True, index_deg=None if clocking is None else float(clocking)
    )
    return show_step(request, job, BenchStep.SET_UP, form, {"clock": clock, "asks": asks})


def _asked(line: FlagLine, filled_in: Mapping[str, str]) -> str:
    """What the trial that a set-up was filled in from takes, in a sentence that everybody may read;
    empty where the watch advises another by now."""
    told = telling_apart(flag_line(line.flag, anybody()), watch_now())
    trials = [told.job, told.surer] if isinstance(told, Apart) else []
    fits = [one for one in trials if one is not None and one.set_up == filled_in]
    return does(fits[0], is_surer=False) if fits else ""


def _set_up_so_far(newest: RoundRecord, person: Person) -> dict[str, object]:
    round_ = newest.round
    if round_.fixture_id is None:
        return {"operator": person.pk, "dial": LATHES_OWN}
    factor = round_.dial_factor
    compound = factor is not None and factor < 1
    return {
        "fixture": round_.fixture_id,
        "edge": round_.edge_id,
        "operator": round_.operator_id,
        "clocking": "" if round_.clocking_deg is None else f"{round_.clocking_deg:g}",
        "not_clocked": round_.clocking_deg is None,
        "dial": COMPOUND if compound else CARRIAGE,
        "dial_factor": f"{factor.normalize():f}" if compound and factor else "",
    }


@page("jobs", role=Role.OPERATOR, to="record readings")
def indicate(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    now = timezone.now()
    job = access.job(number)
    newest = job_record(job).newest
    usual = {
        **start_of(job),
        **even_angles(),
        "unit": by.person.unit,
        "kind": _to_indicate(newest),
        "gauge": gauge_last_indicated(by.person),
    }
    on = timezone.localdate(now)
    form = readings_form(request, IndicateForm, initial=usual, on=on, unit=by.person.unit)

    def save() -> None:
        gauge = form.cleaned_data["gauge"]
        lathe_work.record_indicating(
            job=job,
            kind=Kind(form.cleaned_data["kind"]),
            readings=form.cleaned_data["readings"],
            gauge=None if gauge is None else access.gauge(gauge),
            lever_angle_deg=form.cleaned_data["lever_angle"],
            confirm=form.cleaned_data["confirm"],
            by=by,
            at=now,
            expected_version=form.expected_version,
        )

    if saved(form, save):
        kind = Kind(form.cleaned_data["kind"])
        snug = kind == Kind.INDICATED_SNUG
        over = over_limit(job_record(job).newest.round, kind) is not None
        if over:
            messages.warning(
                request,
                "It runs out more than the shop allows. Tap it true and indicate again, or read "
                f"the dial again, before {'tightening' if snug else 'touching off'}.",
            )
        to = "indicate" if snug or over else "touch_off"
        return go_on(request, by, form, INDICATED_SAYS[snug, over], to=to, number=number)
    clock = engine_clock({0: "0° index", 90: "90°", 180: "180°", 270: "270°"}, from_tailstock=True)
    indicated = indicated_so_far(newest.round)
    return show_step(
        request, job, BenchStep.INDICATE, form, {"clock": clock, "indicated": indicated}
    )


def _to_indicate(newest: RoundRecord) -> Kind:
    """After tightening, once it ran true before, or was tightened all the same."""
    taken = {one.set.kind for one in newest.dial_sets}
    if Kind.INDICATED_TIGHT in taken:
        return Kind.INDICATED_TIGHT
    is_true = Kind.INDICATED_SNUG in taken and not over_limit(newest.round, Kind.INDICATED_SNUG)
    return Kind.INDICATED_TIGHT if is_true else Kind.INDICATED_SNUG


@page("jobs", role=Role.OPERATOR, to="record readings")
def touch_off(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    job = access.job(number)
    typed = {name: request.GET[name] for name in TOUCH_OFF if name in request.GET}
    form = step_form(request, TouchOffForm, job, by, typed)

    def save() -> None:
        lathe_work.record_touch_off(
            job=job,
            dial=form.cleaned_data["dial"],
            paper=form.cleaned_data["paper"],
            by=by,
            at=timezone.now(),
            expected_version=form.expected_version,
        )

    if saved(form, save):
        return go_on(request, by, form, "Touch-off.", to="passes", number=number)
    newest = job_record(job).newest
    context = {
        **at_the_dial(newest),
        "suggested": suggestion(newest),
        "suspecting": suspecting(newest, by),
        "over": over_limit(newest.round),
    }
    return show_step(request, job, BenchStep.TOUCH_OFF, form, context)


@require_POST
@page("jobs", role=Role.OPERATOR, to="record a job")
def correction(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    """Take the suggested dial correction or leave it out; asked for from the touch-off page, which
    is shown again with what was typed there."""
    job = access.job(number)
    form = step_form(request, CorrectionForm, job, by, {})

    def save() -> None:
        correcting.choose_correction(
            job=job,
            take=form.cleaned_data["choice"] == TAKE,
            by=by,
            at=timezone.now(),
            expected_version=form.expected_version,
        )

    if saved(form, save):
        messages.success(request, "The dial correction.")
    else:
        messages.error(request, f"The dial correction was not changed. {refusal_of(form)}")
    typed = urlencode({name: request.POST[name] for name in TOUCH_OFF if request.POST.get(name)})
    return redirect(f"{reverse('dashboards:touch_off', args=[number])}?{typed}")


@page("jobs", role=Role.OPERATOR, to="record a job")
def passes(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    job = access.job(number)
    newest = job_record(job).newest
    form = step_form(request, PassForm, job, by, {})

    def save() -> None:
        lathe_passes.record_pass(
            job=job,
            dial=form.cleaned_data["dial"],
            is_spring=form.cleaned_data["is_spring"],
            confirm=form.cleaned_data["confirm"],
            by=by,
            at=timezone.now(),
            expected_version=form.expected_version,
        )

    if saved(form, save):
        return go_on(request, by, form, "The pass.", to="passes", number=number)
    left = passes_left(newest)
    aims = list(enumerate(newest.dial_targets_mm, start=1))
    done = len(aims) - left
    context = {
        "targets": [(n, target, n <= done) for n, target in aims],
        "aim": aims[done] if left and aims else None,
        "is_last": left == 1,
        **at_the_dial(newest),
    }
    return show_step(request, job, BenchStep.PASSES, form, context)
