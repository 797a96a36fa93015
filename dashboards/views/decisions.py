"""The verdict, and what people make of it: release, cut again, concession or scrap."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from dashboards.figures.gap import gap_round_bore_table
from dashboards.forms.jobs import CONCEDE, CUT_AGAIN, RELEASE, SCRAP, DecisionForm
from dashboards.refusals import saved
from dashboards.views.gap_rows import gap_rows
from dashboards.views.ground import page
from dashboards.views.steps import go_on, show_step, step_form
from qc import access
from qc.actor import Actor
from qc.lookups.pages.choices import leads
from qc.lookups.record.jobs import RoundRecord, job_record
from qc.lookups.record.progress import BenchStep
from qc.lookups.record.settling import Settling, settling
from qc.models import Job, JobResult, Role, VerdictKind
from qc.operations import closing

DECIDE: dict[str, Callable[..., object]] = {
    CUT_AGAIN: closing.cut_again,
    CONCEDE: closing.concede,
    SCRAP: closing.scrap,
}
SAID = {
    RELEASE: "The job is released.",
    CUT_AGAIN: "Another round is open. Its as-found readings are the ones just taken.",
    CONCEDE: "The job is released on concession.",
    SCRAP: "The job is scrapped.",
}


@page("jobs")
def verdict(request: HttpRequest, by: Actor, number: int) -> HttpResponse:
    if request.method == "POST":
        by.must_be(Role.OPERATOR, to="decide about a job")
    job = access.job(number)
    form = step_form(request, DecisionForm, job, by, {})

    def save() -> None:
        told = form.cleaned_data
        reason = {} if told["decision"] == RELEASE else {"why": told["why"]}
        DECIDE.get(told["decision"], closing.release)(
            job=job,
            by=by,
            at=timezone.now(),
            expected_version=form.expected_version,
            **reason,
        )

    if saved(form, save):
        decision = form.cleaned_data["decision"]
        to = "plan" if decision == CUT_AGAIN else "job"
        return go_on(request, by, form, SAID[decision], to=to, number=number)
    newest = job_record(access.job(number)).newest
    context = {
        "always_open": True,
        "may_record": by.may(Role.OPERATOR),
        "may_correct": by.may(Role.LEAD if job.is_closed else Role.OPERATOR),
        "may_decide": by.may(Role.LEAD),
        "leads": leads(),
        "reason_asked": _reason_asked(newest.result, may_decide=by.may(Role.LEAD)),
        "settling": _settling(job, newest),
        "gap_table": gap_round_bore_table(gap_rows(job, newest), unit=by.person.unit),
    }
    return show_step(request, job, BenchStep.VERDICT, form, context)


def _reason_asked(result: JobResult | None, *, may_decide: bool) -> str:
    """Beside the reason: which of the buttons that are shown need one."""
    if result is not None and result.asks_for_a_cut:
        return "needed for a concession or scrap" if may_decide else "optional"
    if result is not None and result.verdict == VerdictKind.ACCEPT and may_decide:
        return "needed for all but a plain release"
    return "needed"


def _settling(job: Job, newest: RoundRecord) -> Settling | None:
    """Of a job that can still be added to."""
    return None if job.is_closed or newest.result is None else settling(newest.result)
