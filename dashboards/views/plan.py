"""The plan page: what the cut is worked out from, and what came of it."""

from __future__ import annotations

from dataclasses import asdict

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from dashboards.figures.gap import gap_round_bore_table
from dashboards.figures.timing import port_timing_ring_table
from dashboards.forms.fields import as_typed
from dashboards.forms.plan import PlanForm
from dashboards.refusals import saved
from dashboards.views.gap_rows import gap_rows
from dashboards.views.ground import page
from dashboards.views.lathe_drawings import port_openings
from dashboards.views.steps import go_on, show_step, step_form
from qc import access
from qc.actor import Actor
from qc.lookups.record.jobs import (
    ApartRecord,
    RoundRecord,
    apart_records,
    job_record,
)
from qc.lookups.record.progress import BenchStep
from qc.lookups.shop.policy import shop_policy
from qc.models import Role
from qc.operations import planning
from qc.operations.outcome import apart_in


@page("jobs", role=Role.OPERATOR, to="plan a job")
def plan(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    job = access.job(number)
    newest = job_record(job).newest
    form = step_form(request, PlanForm, job, by, _usual(newest, by.person.unit))

    def save() -> None:
        planning.plan_round(
            job=job,
            gasket_next=form.cleaned_data["gasket_next"],
            flange=form.cleaned_data["flange"],
            by=by,
            at=timezone.now(),
            expected_version=form.expected_version,
        )

    if saved(form, save):
        return go_on(request, by, form, "The plan is below.", to="plan", number=number)
    planned = job_record(job).newest
    context = {
        "gap_table": gap_round_bore_table(gap_rows(job, planned), unit=str(form.unit)),
        "timing_table": port_timing_ring_table(port_openings(planned)),
        "apart_in": _apart(planned),
    }
    return show_step(request, job, BenchStep.PLAN, form, context)


def _apart(newest: RoundRecord) -> list[ApartRecord]:
    """What stands apart among the readings the depth is to rest on."""
    taken = newest.as_found
    if taken is None or taken.summary is None or taken.set.gauge is None:
        return []
    found = apart_in(taken.summary, gauge=taken.set.gauge, policy=shop_policy(), at=taken.set.at)
    return apart_records([asdict(one) for one in found], taken)


def _usual(newest: RoundRecord, unit: str) -> dict[str, str]:
    """The gasket stays what it is, and the flange what it was measured, unless someone says."""
    round_ = newest.round
    gasket = round_.gasket_next_mm
    if gasket is None and newest.as_found is not None:
        gasket = newest.as_found.set.base_gasket_mm
    return {"gasket_next": as_typed(gasket, unit), "flange": as_typed(round_.flange_mm, unit)}
