"""A fixture re-indicated at the lathe, as reported; a lead confirms it on the pages."""

from __future__ import annotations

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers import Out, Part
from api.bodies import Body, Listing
from api.fields import Ref, StrictText
from api.lengths import LengthOut, MmIn
from api.paging import page
from api.retry import once
from api.view import ShopView
from qc import access
from qc.lookups.shop import listings
from qc.operations import reindicating


class ReindicationIn(Body):
    as_found = MmIn(
        source="as_found_mm",
        required=False,
        allow_null=True,
        help_text="Side to side on the dial, before.",
    )
    as_left = MmIn(source="as_left_mm", help_text="The same, afterwards.")
    note = StrictText(required=False, allow_blank=True)
    job = Ref(
        access.job,
        required=False,
        allow_null=True,
        help_text="The job on it at which that was done.",
    )


class AnsweredOut(Part):
    """service: what it became; null where a lead set it aside."""

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
