"""A fixture re-indicated at the lathe, as reported; a lead confirms it on the pages."""

from __future__ import annotations

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers import Out, Part
from api.bodies import Body, Listing, NoBody
from api.fields import Ref, StrictText, StrictYesNo
from api.lengths import LengthOut, MmIn
from api.paging import page
from api.retry import once
from api.view import ShopView
from qc import access
from qc.errors import NotThere
from qc.lookups.shop import listings
from qc.models import Reindication
from qc.operations import reindicating


class CorrectedIn(Body):
    as_found = MmIn(
        source="as_found_mm",
        required=False,
        allow_null=True,
        help_text="Side to side on the dial, before.",
    )
    as_left = MmIn(source="as_left_mm", help_text="The same, afterwards.")
    note = StrictText(required=False, allow_blank=True)
    confirm = StrictYesNo(
        required=False, help_text="The lengths are right although they look doubtful."
    )


class ReindicationIn(CorrectedIn):
    job = Ref(
        access.job,
        required=False,
        allow_null=True,
        help_text="The job on it at which that was done.",
    )


class AnsweredOut(Part):
    """service: what it became; null where a lead set it aside, or who reported it took it back."""

    needs = "answered_at"
    at = serializers.DateTimeField(source="answered_at")
    by = serializers.CharField(source="answered_by.username")
    service = serializers.IntegerField(source="service_id", allow_null=True)


class ReindicationOut(Out):
    id = serializers.IntegerField()
    at = serializers.DateTimeField()
    by = serializers.CharField(source="by.username")
    as_found = LengthOut(source="as_found_mm", allow_null=True)
    as_left = LengthOut(source="as_left_mm")
    note = serializers.CharField()
    job = serializers.IntegerField(source="job_id", allow_null=True)
    answered = AnsweredOut(help_text="null while it waits for a lead.")


class Reindications(ShopView):
    filters = Listing
    row = ReindicationOut
    answer = ReindicationOut
    body = ReindicationIn
    creates = True

    def get(self, request: Request, number: int) -> Response:
        """What was reported of it, newest first."""
        self.asked(request)
        rows = listings.reindications_of(access.fixture(number))
        return page(request, rows, lambda some: ReindicationOut(some, many=True).data)

    @once
    def post(self, request: Request, number: int) -> Response:
        """Report that it was re-indicated. Its flag stays, and its charts go on, until a lead
        confirms it; one report at a time waits."""
        fixture = access.fixture(number)
        told = ReindicationIn.parse(request.data)
        made = reindicating.report(fixture=fixture, by=self.by, at=timezone.now(), **told)
        return Response(ReindicationOut(made).data, status=201)


class _OwnReport(ShopView):
    """What whoever reported it may do while it waits."""

    answer = ReindicationOut

    def own(self, number: int, report_id: int) -> Reindication:
        found = access.reindication(report_id)
        if found.fixture_id != access.fixture(number).pk:
            raise NotThere(what="report")
        return found


class CorrectReindication(_OwnReport):
    body = CorrectedIn

    @once
    def post(self, request: Request, number: int, report_id: int) -> Response:
        """Put your own report right while it waits for a lead: all it says is said anew, but for
        its time and its job. The journal keeps what it said before."""
        told = CorrectedIn.parse(request.data)
        made = reindicating.correct(
            reported=self.own(number, report_id), by=self.by, at=timezone.now(), **told
        )
        return Response(ReindicationOut(made).data)


class TakeBackReindication(_OwnReport):
    body = NoBody

    @once
    def post(self, request: Request, number: int, report_id: int) -> Response:
        """Take your own report back while it waits for a lead."""
        NoBody.parse(request.data)
        reported = self.own(number, report_id)
        reindicating.take_back(reported=reported, by=self.by, at=timezone.now())
        return Response(ReindicationOut(access.reindication(report_id)).data)
