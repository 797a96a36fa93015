"""Flags on fixtures believed to have moved, and the signals of the shop's charts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers import DegreesOut, NamedOut, Out, Part
from api.bodies import Listing, NoBody, Why
from api.fields import row_number
from api.lengths import LengthOut
from api.paging import page
from api.retry import once
from api.view import ShopView
from qc import access
from qc.lookups import listings
from qc.models import Channel, FlagState, Rule, Signal
from qc.operations import flags


class AtRoundOut(Out):
    job = serializers.IntegerField(source="job_id")
    round = serializers.IntegerField(source="number")


class FlagClosedOut(Part):
    """`by` is null where the service withdrew the flag itself."""

    needs = "closed_at"
    at = serializers.DateTimeField(source="closed_at")
    by = serializers.CharField(source="closed_by.username", allow_null=True)
    note = serializers.CharField()


class FlagOut(Out):
    """How far the fixture moved, at a 20 mm radius, and toward where on its own clock."""

    id = serializers.IntegerField()
    fixture = NamedOut()
    state = serializers.ChoiceField(choices=FlagState.choices)
    raised_at = serializers.DateTimeField()
    raised_by = AtRoundOut(help_text="The job that made the chart signal.")
    moved_at = AtRoundOut(help_text="The likeliest first job after the move.")
    side_to_side = LengthOut(source="side_to_side_mm")
    wide_toward_deg = DegreesOut()
    statistic = serializers.FloatField()
    limit = serializers.FloatField()
    closed = FlagClosedOut()


class FlagFilters(Listing):
    fixture = row_number()
    open = serializers.BooleanField(required=False)


class CloseFlagIn(Why):
    state = serializers.ChoiceField(
        choices=[FlagState.CAUSE_FOUND.value, FlagState.NONE_FOUND.value]
    )


class Flags(ShopView):
    filters = FlagFilters
    row = FlagOut

    def get(self, request: Request) -> Response:
        """Flags, newest first."""
        asked = self.asked(request)
        rows = listings.flags(fixture_id=asked.get("fixture"), is_open=asked.get("open"))
        return page(request, rows, lambda some: FlagOut(some, many=True).data)


class LookIntoFlag(ShopView):
    body = NoBody
    answer = FlagOut

    @once
    def post(self, request: Request, number: int) -> Response:
        """Say that someone is looking at the fixture."""
        NoBody.parse(request.data)
        flag = flags.look_into(flag=access.flag(number), by=self.by, at=timezone.now())
        return Response(FlagOut(flag).data)


class CloseFlag(ShopView):
    body = CloseFlagIn
    answer = FlagOut

    @once
    def post(self, request: Request, number: int) -> Response:
        """Close a flag with what was found; the fixture's chart starts a new stretch."""
        flag = flags.close_flag(
            flag=access.flag(number),
            by=self.by,
            at=timezone.now(),
            **CloseFlagIn.parse(request.data),
        )
        return Response(FlagOut(flag).data)


class SignalOut(Out):
    """A chart rule that fired; `lathe` is null on the shop's own chart."""

    id = serializers.IntegerField()
    channel = serializers.ChoiceField(choices=Channel.choices)
    lathe = NamedOut(allow_null=True)
    rule = serializers.ChoiceField(choices=Rule.choices)
    says = serializers.CharField(source="get_rule_display", help_text="The rule in words.")
    at = serializers.DateTimeField()
    job = serializers.IntegerField(source="round.job_id")
    round = serializers.IntegerField(source="round.number")
    value = LengthOut(source="value_mm")
    limit = LengthOut(source="limit_mm", allow_null=True)
    made_by = serializers.SerializerMethodField()

    def get_made_by(self, signal: Signal) -> list[int]:
        """The jobs that made the pattern, oldest first."""
        jobs: dict[int, int] = self.context["jobs"]
        return [jobs[key] for key in signal.rounds]


class SignalFilters(Listing):
    channel = serializers.ChoiceField(choices=Channel.choices, required=False)
    lathe = row_number()


class Signals(ShopView):
    filters = SignalFilters
    row = SignalOut

    def get(self, request: Request) -> Response:
        """Signals that still stand, newest first."""
        asked = self.asked(request)
        rows = listings.signals(channel=asked.get("channel", ""), lathe_id=asked.get("lathe"))
        return page(request, rows, _with_jobs)


def _with_jobs(signals: Sequence[Signal]) -> Any:
    told = {"jobs": listings.jobs_behind(signals)}
    return SignalOut(signals, many=True, context=told).data
