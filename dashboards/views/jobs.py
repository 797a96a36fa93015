"""The list of jobs, opening one, and the record of one."""

from __future__ import annotations

from typing import cast
from uuid import uuid4

from django.core.paginator import Paginator
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils import timezone

from dashboards.figures.gap import gap_round_bore, gap_round_bore_table
from dashboards.forms.jobs import FilterForm, NewJobForm
from dashboards.refusals import saved
from dashboards.telling import journal_lines
from dashboards.views.drawn import drawn
from dashboards.views.gap_rows import gap_rows
from dashboards.views.ground import page, sent, show
from dashboards.views.kinds import KINDS
from dashboards.views.signing import choose_unit
from dashboards.views.steps import job_facts
from qc import access
from qc.actor import Actor
from qc.errors import AlreadyThere, NotThere
from qc.lookups.record.job_lists import job_rows, jobs_filtered
from qc.lookups.record.jobs import JobRecord, RoundRecord, job_record
from qc.lookups.record.so_far import being_cut
from qc.models import Cylinder, Job, Resource, Role
from qc.operations import engines, opening

A_PAGE = 25
USE_KNOWN = "use_known"


@page("jobs")
def jobs(request: HttpRequest, by: Actor) -> HttpResponse:
    form, used = FilterForm(request.GET), _used(request.GET.get("used", ""))
    found = Paginator(jobs_filtered(used=used, **form.wanted()), A_PAGE)
    at = found.get_page(request.GET.get("page"))
    kept = request.GET.copy()
    kept.pop("page", None)
    rows = job_rows(cast("QuerySet[Job]", at.object_list))
    context = {
        "rows": rows,
        "being_cut": being_cut(rows),
        "at": at,
        "kept": kept.urlencode(),
        "used": used,
        "used_as": request.GET.get("used"),
        "may_record": by.may(Role.OPERATOR),
        "filters": form,
    }
    return show(request, "dashboards/jobs/list.html", context)


def _used(asked: str) -> Resource | None:
    """The fixture, lathe, edge or gauge that "fixture-3" names; None for what names none."""
    slug, _, key = asked.partition("-")
    kind = next((one for one in KINDS if one.slug == slug), None)
    return None if kind is None else cast("Resource", kind.find(key))


@page("jobs", role=Role.OPERATOR, to="open a job")
def new(request: HttpRequest, by: Actor) -> HttpResponse:
    """A cylinder the shop knows is found by words in the address, or a new one is described."""
    words, chosen = request.GET.get("words", ""), _key(request, "cylinder")
    form = NewJobForm(
        _with_known(sent(request)),
        words=words,
        chosen=chosen,
        unit=by.person.unit,
        initial={"unit": by.person.unit, "cylinder": chosen, "once": str(uuid4())},
    )
    opened: list[Job] = []
    if saved(form, lambda: opened.append(_open(form, by))):
        choose_unit(by, form.cleaned_data["unit"])
        return redirect("dashboards:as_found", opened[0].pk)
    return show(request, "dashboards/jobs/new.html", {"words": words}, form=form)


def _with_known(told: QueryDict | None) -> QueryDict | None:
    """The form as sent; or, by the button that offers the cylinder known under the serial typed,
    the same with that cylinder chosen."""
    if told is None or USE_KNOWN not in told:
        return told
    chosen = told.copy()
    chosen["cylinder"], chosen["family"], chosen["serial"] = str(told[USE_KNOWN]), "", ""
    return chosen


def _key(request: HttpRequest, name: str) -> int | None:
    asked = request.POST.get(name, request.GET.get(name, ""))
    return int(asked) if asked.isdecimal() and len(asked) < 10 else None


def _open(form: NewJobForm, by: Actor) -> Job:
    """The job this form opens; pressed twice, even before the first answer came, it opens one."""
    key = form.key()
    try:
        return opening.opened_by_form(key, by=by) or _open_new(form, by, key)
    except AlreadyThere:
        first = opening.opened_by_form(key, by=by)
        if first is None:
            raise
        return first


@transaction.atomic
def _open_new(form: NewJobForm, by: Actor, key: str | None) -> Job:
    """One transaction: a job that is refused leaves no cylinder behind."""
    told = form.cleaned_data
    return opening.open_job(
        cylinder=_cylinder(form, by),
        form_key=key,
        target=told["target"],
        tol_minus=told["tol_minus"],
        tol_plus=told["tol_plus"],
        note=told["note"],
        confirm=told["confirm"],
        beside_open=told["beside_open"],
        by=by,
        at=timezone.now(),
    )


def _cylinder(form: NewJobForm, by: Actor) -> Cylinder:
    told = form.cleaned_data
    if told["cylinder"]:
        return access.cylinder(told["cylinder"])
    earlier = {} if told["earlier_cut"] is None else {"earlier_cut_mm": told["earlier_cut"].mm}
    return engines.register_cylinder(
        family=access.family(told["family"]),
        serial=told["serial"],
        customer_reference=told["customer_reference"],
        by=by,
        at=timezone.now(),
        **earlier,
    )


@page("jobs")
def job(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    facts = job_facts(number, by)
    record: JobRecord = facts["record"]
    drawings = [
        (one, gap_round_bore_table(gap_rows(record.job, one), unit=by.person.unit))
        for one in reversed(record.rounds)
    ]
    context = {
        **facts,
        "rounds": drawings,
        "journal": journal_lines(record.journal),
        "may_record": by.may(Role.OPERATOR),
        "may_correct": by.may(Role.LEAD if record.job.is_closed else Role.OPERATOR),
    }
    return show(request, "dashboards/jobs/job.html", context)


@page("jobs")
def gap_figure(request: HttpRequest, by: Actor, number: int, round_number: int) -> HttpResponse:
    record = job_record(access.job(number))
    one = _round(record, round_number)
    return drawn(gap_round_bore(gap_rows(record.job, one), unit=by.person.unit))


def _round(record: JobRecord, number: int) -> RoundRecord:
    for one in record.rounds:
        if one.round.number == number:
            return one
    raise NotThere(what="round")
