"""Jobs: listed, opened, shown whole, and what the journal says of one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.urls import reverse
from django.utils import timezone
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from api.bodies import Listing
from api.fields import row_number
from api.paging import page
from api.retry import once
from api.v1.jobs_out import JobOut, JobRowOut, JournalEntryOut
from api.v1.step_bodies import JobIn
from api.versions import is_unchanged, not_modified, with_etag
from api.view import ShopView
from qc import access
from qc.lookups.record.job_lists import job_rows, jobs_filtered
from qc.lookups.record.jobs import job_record
from qc.lookups.shop import listings
from qc.models import Job, State
from qc.operations import opening

YEARS = range(1970, 2200)


class Moment(serializers.DateTimeField):
    """A time in ISO 8601; without an offset it is UTC."""

    def to_internal_value(self, value: Any) -> Any:
        at = super().to_internal_value(value)
        if at.year not in YEARS:
            raise ValidationError(f"Give a year from {YEARS.start} to {YEARS[-1]}.", "invalid")
        return at


class JobFilters(Listing):
    state = serializers.ChoiceField(
        choices=["at_work", *State.values],
        required=False,
        help_text="at_work: every job that is not closed.",
    )
    family = row_number()
    fixture = row_number(help_text="Used in any round of the job.")
    since = Moment(required=False, help_text="Opened at this time or later.")
    until = Moment(required=False, help_text="Opened before this time.")


class JobsView(ShopView):
    filters = JobFilters
    row = JobRowOut
    body = JobIn
    answer = JobOut
    creates = True

    def get(self, request: Request) -> Response:
        """Jobs, newest first."""
        asked = self.asked(request)
        jobs = jobs_filtered(
            state=asked.get("state", ""),
            family_id=asked.get("family"),
            fixture_id=asked.get("fixture"),
            since=asked.get("since"),
            until=asked.get("until"),
        )
        return page(request, jobs.only("pk"), _rows)

    @once
    def post(self, request: Request) -> Response:
        """Open a job on a cylinder."""
        job = opening.open_job(by=self.by, at=timezone.now(), **JobIn.parse(request.data))
        return job_answer(job.pk, is_new=True)


class JobView(ShopView):
    answer = JobOut
    versioned = True

    def get(self, request: Request, number: int) -> Response:
        """The whole record of a job: its rounds, readings, plan, passes and results."""
        job = access.job(number)
        if is_unchanged(request, job):
            return not_modified(job)
        return with_etag(job, JobOut(job_record(job)).data)


class JobJournalView(ShopView):
    filters = Listing
    row = JournalEntryOut

    def get(self, request: Request, number: int) -> Response:
        """Who did what to a job, when and why, oldest first."""
        self.asked(request)
        entries = listings.journal_of_job(access.job(number))
        return page(
            request,
            entries,
            lambda rows: JournalEntryOut(rows, many=True).data,
            newest_first=False,
        )


def job_answer(number: int, *, is_new: bool = False) -> Response:
    """The job as it stands now, with the ETag for the next step."""
    job = access.job(number)
    return with_etag(
        job,
        JobOut(job_record(job)).data,
        status=201 if is_new else 200,
        location=reverse("api:job", args=[number]) if is_new else "",
    )


def _rows(page_of_jobs: Sequence[Job]) -> Any:
    numbers = [job.pk for job in page_of_jobs]
    return JobRowOut(job_rows(Job.objects.filter(pk__in=numbers).order_by("-pk")), many=True).data
