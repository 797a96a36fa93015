"""Flags on what is believed to have moved, and the signals of the shop's charts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers import DegreesOut, NamedOut, Out, Part
from api.bodies import Body, Listing, NoBody, Why
from api.fields import StrictText, StrictWhole, row_number
from api.lengths import LengthOut
from api.paging import page
from api.retry import once
from api.v1.resource_forms import ServiceOut
from api.view import ShopView
from qc import access
from qc.actor import Actor
from qc.lookups.flags.suspected import Thing
from qc.lookups.flags.told import (
    flag_line,
    flag_lines,
    flags_for,
)
from qc.lookups.shop import listings
from qc.models import (
    ABOUT,
    FOUND,
    Answer,
    Channel,
    DriftChannel,
    Flag,
    FlagState,
    Recommended,
    Rule,
    Signal,
)
from qc.operations import decisions, flag_ends, flags


class AtRoundOut(Out):
    job = serializers.IntegerField(source="job_id")
    round = serializers.IntegerField(source="number")


class FlagClosedOut(Part):
    """`by` is null where the service withdrew the flag itself."""

    needs = "closed_at"
    at = serializers.DateTimeField(source="closed_at")
    by = serializers.CharField(source="closed_by.username", allow_null=True)
    note = serializers.CharField()


class FlagSuspectOut(Out):
    """A person's name and number are for that person and the leads."""

    kind = serializers.ChoiceField(choices=ABOUT)
    id = serializers.IntegerField(source="key", allow_null=True)
    name = serializers.CharField()
    probability = serializers.FloatField(
        source="told_probability",
        allow_null=True,
        help_text="That it is the one, given that one of them moved. To three places and at most "
        "0.99: nothing is certain.",
    )


class FlagServiceOut(ServiceOut):
    """The service by which a flag ended, whichever suspect it was of."""

    of = serializers.ChoiceField(choices=ABOUT, source="about_kind")
    subject = NamedOut()


class FlagCheckOut(Out):
    """A suspect that was looked at and in order."""

    suspect = FlagSuspectOut()
    at = serializers.DateTimeField()
    by = serializers.CharField()
    note = serializers.CharField()


class FindingOut(Out):
    """What a lead said afterwards of a flag that a service had cleared; it counts in the score."""

    state = serializers.ChoiceField(choices=[one.value for one in FOUND])
    at = serializers.DateTimeField()
    by = serializers.CharField(source="by.username")
    note = serializers.CharField()


class DecisionOut(Out):
    recommended = serializers.ChoiceField(choices=Recommended.choices)
    made_at = serializers.DateTimeField()
    answer = serializers.ChoiceField(choices=Answer.choices)
    answered_at = serializers.DateTimeField(allow_null=True)
    answered_by = serializers.CharField(
        source="answered_by.username", allow_null=True, default=None
    )
    why = serializers.CharField()
    until = serializers.DateField(
        source="put_off_until", allow_null=True, help_text="The day to decide again."
    )
    version = serializers.IntegerField(help_text="One more with each answer.")


class FlagOut(Out):
    """What seems to have moved, as believed now; a closed flag as it was believed last."""

    id = serializers.IntegerField(source="flag.pk")
    title = serializers.CharField(help_text="In words.")
    channel = serializers.ChoiceField(choices=DriftChannel.choices)
    kind = serializers.ChoiceField(choices=ABOUT, help_text="Of the likeliest when it was raised.")
    about = NamedOut(source="flag.about")
    fixture = NamedOut(source="flag.fixture", allow_null=True)
    named = FlagSuspectOut(
        allow_null=True, help_text="The one it is, where it is likely enough to be named alone."
    )
    suspects = FlagSuspectOut(
        many=True, help_text="Those that hold the one that moved with 90 % probability."
    )
    state = serializers.ChoiceField(source="flag.state", choices=FlagState.choices)
    raised_at = serializers.DateTimeField(source="flag.raised_at")
    raised_by = AtRoundOut(help_text="The job that raised it.")
    moved_at = AtRoundOut(source="since", help_text="The likeliest first job after the move.")
    moved_from = AtRoundOut(
        source="earliest", allow_null=True, help_text="With moved_to: 90 % probability."
    )
    moved_to = AtRoundOut(source="latest", allow_null=True)
    side_to_side = LengthOut(
        source="side_to_side_mm", allow_null=True, help_text="Tilt only, at a 20 mm radius."
    )
    wide_toward_deg = DegreesOut(
        source="wide_deg",
        allow_null=True,
        help_text="On a fixture's own clock; of hands, on the engine's.",
    )
    height = LengthOut(
        source="height_mm", allow_null=True, help_text="Height only; positive: gaps come out wider."
    )
    spread_ratio = serializers.FloatField(
        allow_null=True, help_text="Spread only: how many times as widely repeats scatter."
    )
    is_wear = serializers.BooleanField(help_text="Likelier to grow from job to job than a knock.")
    statistic = serializers.FloatField(source="flag.statistic")
    limit = serializers.FloatField(source="flag.limit")
    closed = FlagClosedOut(source="flag")
    cause = FlagSuspectOut(
        allow_null=True,
        help_text="Which suspect a cause that was found lay in, where that was said, then or "
        "afterwards.",
    )
    service = FlagServiceOut(source="flag.service", allow_null=True)
    checks = FlagCheckOut(many=True, help_text="What was looked at and in order, oldest first.")
    finding = FindingOut(allow_null=True)
    decision = DecisionOut(allow_null=True)


class FlagFilters(Listing):
    fixture = row_number()
    lathe = row_number()
    edge = row_number()
    gauge = row_number()
    person = row_number()
    channel = serializers.ChoiceField(choices=DriftChannel.choices, required=False)
    open = serializers.BooleanField(required=False)


class SuspectIn(Body):
    kind = serializers.ChoiceField(choices=ABOUT)
    id = serializers.IntegerField(min_value=1)


class CloseFlagIn(Why):
    state = serializers.ChoiceField(choices=[one.value for one in FOUND])
    cause = SuspectIn(
        required=False,
        allow_null=True,
        help_text="Which of the flag's suspects the cause lay in, where one was found and it is "
        "known.",
    )
    looked_at = SuspectIn(
        many=True,
        required=False,
        help_text="Which suspects were looked at where no cause was found; all, where left out. "
        "The flag stays open while one of 0.1 or more was not.",
    )


class FindingIn(Why):
    state = serializers.ChoiceField(choices=[one.value for one in FOUND])
    cause = SuspectIn(
        required=False, allow_null=True, help_text="Needed with a cause found: where it lay."
    )


class DecideIn(Body):
    answer = serializers.ChoiceField(choices=[Answer.ACCEPTED.value, Answer.PUT_OFF.value])
    why = StrictText(required=False, allow_blank=True, help_text="Needed to put it off.")
    until = serializers.DateField(
        required=False, allow_null=True, help_text="The day to decide again, where it is put off."
    )
    version = StrictWhole(
        required=False,
        help_text="The decision's as you saw it: 412 where somebody answered since.",
    )


class Flags(ShopView):
    filters = FlagFilters
    row = FlagOut

    def get(self, request: Request) -> Response:
        """Flags, newest first; those on a person are for that person and the leads."""
        asked = self.asked(request)
        rows = flags_for(
            self.by,
            is_open=asked.get("open"),
            channel=asked.get("channel", ""),
            **{kind: asked[kind] for kind in ABOUT if kind in asked},
        )
        return page(request, rows, lambda some: FlagOut(flag_lines(some, self.by), many=True).data)


class OneFlag(ShopView):
    answer = FlagOut

    def get(self, request: Request, number: int) -> Response:
        """What seems to have moved, and who it could be."""
        return _told(access.flag(number, by=self.by), self.by)


class LookIntoFlag(ShopView):
    body = NoBody
    answer = FlagOut

    @once
    def post(self, request: Request, number: int) -> Response:
        """Say that someone is looking at what it is about."""
        NoBody.parse(request.data)
        flag = access.flag(number, by=self.by)
        return _told(flags.look_into(flag=flag, by=self.by, at=timezone.now()), self.by)


class CloseFlag(ShopView):
    body = CloseFlagIn
    answer = FlagOut

    @once
    def post(self, request: Request, number: int) -> Response:
        """Close it with what was found, and with a cause every open flag on the same resource."""
        told = CloseFlagIn.parse(request.data)
        cause, looked_at = told.pop("cause", None), told.pop("looked_at", None)
        flag = flags.close_flag(
            flag=access.flag(number, by=self.by),
            by=self.by,
            at=timezone.now(),
            cause=None if cause is None else _thing(cause),
            looked_at=None if looked_at is None else [_thing(one) for one in looked_at],
            **told,
        )
        return _told(flag, self.by)


class FlagFinding(ShopView):
    body = FindingIn
    answer = FlagOut

    @once
    def post(self, request: Request, number: int) -> Response:
        """Say afterwards what came of a flag that a service cleared, or correct that. It counts in
        the score; the watch keeps what it was told by the service."""
        told = FindingIn.parse(request.data)
        cause = told.pop("cause", None)
        flag_ends.say_finding(
            flag=access.flag(number, by=self.by),
            by=self.by,
            at=timezone.now(),
            cause=None if cause is None else _thing(cause),
            **told,
        )
        return _told(access.flag(number, by=self.by), self.by)


class DecideFlag(ShopView):
    body = DecideIn
    answer = FlagOut

    @once
    def post(self, request: Request, number: int) -> Response:
        """Accept what is recommended about a flag, or put it off with a reason. While the flag is
        open either may be changed: the last one counts."""
        flag = access.flag(number, by=self.by)
        told = DecideIn.parse(request.data)
        seen = told.pop("version", None)
        decisions.answer(flag=flag, by=self.by, at=timezone.now(), expected_version=seen, **told)
        return _told(access.flag(number, by=self.by), self.by)


def _thing(told: dict[str, Any]) -> Thing:
    return told["kind"], told["id"]


def _told(flag: Flag, by: Actor) -> Response:
    return Response(FlagOut(flag_line(flag, by)).data)


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
