"""Lists of jobs: which fit, and a line for each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Prefetch, QuerySet

from qc.lookups.shop.resources import JOBS
from qc.models import (
    CLOSED,
    Job,
    JobResult,
    Resource,
    Round,
    State,
)


@dataclass(frozen=True)
class JobRow:
    """One line of a list of jobs."""

    number: int
    state: str
    state_label: str
    family: str
    serial: str
    customer_reference: str
    opened_at: datetime
    verdict: str | None
    target_error_mm: float | None
    side_to_side_mm: float | None
    fixture: str | None
    round_number: int
    parts_changed: bool


def job_rows(jobs: QuerySet[Job]) -> list[JobRow]:
    """Rows for these jobs, in their order; one query for the jobs and two for what they show."""
    results = JobResult.objects.filter(is_current=True)
    rounds = Round.objects.select_related("fixture").order_by("number", "pk")
    prefetched = jobs.select_related("cylinder__family").prefetch_related(
        Prefetch("rounds", rounds.prefetch_related(Prefetch("results", results)))
    )
    return [_job_row(one) for one in prefetched]


def _job_row(job: Job) -> JobRow:
    rounds = list(job.rounds.all())
    results = [one for round_ in rounds for one in round_.results.all()]
    last = results[-1] if results else None
    fixture = rounds[-1].fixture
    return JobRow(
        number=job.pk,
        state=job.state,
        state_label=job.get_state_display(),
        family=job.cylinder.family.name,
        serial=job.cylinder.serial,
        customer_reference=job.cylinder.customer_reference,
        opened_at=job.opened_at,
        verdict=None if last is None else last.verdict,
        target_error_mm=None if last is None else last.target_error_mm,
        side_to_side_mm=None if last is None else last.side_to_side_mm,
        fixture=None if fixture is None else fixture.name,
        round_number=rounds[-1].number,
        parts_changed=rounds[-1].parts_changed,
    )


def jobs_filtered(
    *,
    state: str = "",
    family_id: int | None = None,
    fixture_id: int | None = None,
    used: Resource | None = None,
    since: datetime | None = None,
    until: datetime | None = None,
    words: str = "",
) -> QuerySet[Job]:
    """Jobs newest first; `state` may be "at_work" for all that are not closed.

    fixture_id: in any round. used: the fixture, lathe, edge or gauge it was done with. since,
    until: opened at or after the one, before the other.
    """
    jobs = Job.objects.order_by("-pk")
    if state == "at_work":
        jobs = jobs.exclude(state__in=CLOSED)
    elif state in State.values:
        jobs = jobs.filter(state=state)
    if family_id is not None:
        jobs = jobs.filter(cylinder__family_id=family_id)
    if fixture_id is not None:
        jobs = jobs.filter(pk__in=Round.objects.filter(fixture_id=fixture_id).values("job"))
    if used is not None:
        own = type(used)._default_manager.filter(pk=used.pk)
        jobs = jobs.filter(pk__in=own.values(JOBS[type(used)]))
    if since is not None:
        jobs = jobs.filter(opened_at__gte=since)
    if until is not None:
        jobs = jobs.filter(opened_at__lt=until)
    for word in words.split():
        jobs = _matching(jobs, word)
    return jobs


def _matching(jobs: QuerySet[Job], word: str) -> QuerySet[Job]:
    found = jobs.filter(cylinder__serial__icontains=word) | jobs.filter(
        cylinder__customer_reference__icontains=word
    )
    return found | jobs.filter(pk=int(word)) if word.isdecimal() and len(word) < 10 else found
