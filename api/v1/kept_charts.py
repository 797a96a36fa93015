"""The charts of errors any way they can be looked at, their frozen limits, and the rule sets."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers import Out
from api.bodies import Body, Listing, NoBody, Why
from api.fields import Ref, StrictWhole, row_number
from api.paging import page
from api.retry import once
from api.v1.kept_charts_out import BaselineOut, ChartPageOut
from api.view import ShopView
from qc import access
from qc.lookups.charts.baselines import baselines_of
from qc.lookups.charts.chart_lanes import View
from qc.lookups.charts.chart_page import chart_page
from qc.lookups.charts.kept_errors import ErrorChartKept
from qc.lookups.charts.rule_sets import rule_sets
from qc.lookups.charts.scopes import scope_of
from qc.lookups.shop.policy import shop_policy
from qc.models import Channel, Resource, RuleSet
from qc.operations.baselines import freeze_limits, give_up_limits
from qc.operations.learning import rebuild_all

LEFT_OUT = "At most one of lathe, edge and gauge; the whole shop where all are left out."


def _one_subject(found: dict[str, Any]) -> Resource | None:
    named = [found[kind] for kind in ("lathe", "edge", "gauge") if found.get(kind) is not None]
    if len(named) > 1:
        raise serializers.ValidationError(LEFT_OUT)
    return named[0] if named else None


class OfChart(Body):
    channel = serializers.ChoiceField(choices=Channel.choices)
    lathe = row_number(help_text=LEFT_OUT)
    edge = row_number()
    gauge = row_number()

    def subject(self, asked: dict[str, Any]) -> Resource | None:
        finds = {"lathe": access.lathe, "edge": access.edge, "gauge": access.gauge}
        return _one_subject({kind: finds[kind](asked[kind]) for kind in finds if kind in asked})


class OfView(OfChart):
    view = serializers.ChoiceField(
        choices=[one.value for one in View],
        required=False,
        help_text="Left out: single jobs, or first jobs while the baseline is thin.",
    )


class OfBaselines(OfChart, Listing):
    pass


class FreezeIn(Why):
    channel = serializers.ChoiceField(choices=Channel.choices)
    lathe = Ref(access.lathe, required=False, help_text=LEFT_OUT)
    edge = Ref(access.edge, required=False)
    gauge = Ref(access.gauge, required=False)
    first_job = StrictWhole(min_value=1, help_text="The first job in cutting order.")
    last_job = StrictWhole(min_value=1)
    leave_out = serializers.ListField(child=StrictWhole(min_value=1), required=False)


class Charts(ShopView):
    filters = OfView
    answer = ChartPageOut

    def get(self, request: Request) -> Response:
        """One chart of errors, one way of looking at it: its newest jobs and what they were held
        against."""
        asked = self.asked(request)
        view = View(asked["view"]) if "view" in asked else None
        found = chart_page(
            Channel(asked["channel"]), OfView().subject(asked), view=view, now=timezone.now()
        )
        if found.view not in found.views:
            raise serializers.ValidationError({"view": "Only target error is looked at this way."})
        return Response(ChartPageOut(found).data)


class Baselines(ShopView):
    """Limits people froze for one chart."""

    filters = OfBaselines
    body = FreezeIn
    row = BaselineOut
    answer = BaselineOut
    creates = True

    def get(self, request: Request) -> Response:
        """Every limit ever frozen for the chart, newest first."""
        asked = self.asked(request)
        chart = ErrorChartKept(Channel(asked["channel"]), scope_of(OfChart().subject(asked)))
        return page(request, baselines_of(chart), lambda some: BaselineOut(some, many=True).data)

    @once
    def post(self, request: Request) -> Response:
        """Freeze the limits that these jobs give; they hold from the first of them on."""
        told = FreezeIn.parse(request.data)
        baseline = freeze_limits(
            chart=ErrorChartKept(Channel(told["channel"]), scope_of(_one_subject(told))),
            first_job=told["first_job"],
            last_job=told["last_job"],
            leave_out=told.get("leave_out", []),
            why=told["why"],
            by=self.by,
            at=timezone.now(),
        )
        return Response(BaselineOut(baseline).data, status=201)


class GiveUpBaseline(ShopView):
    body = Why
    answer = BaselineOut

    @once
    def post(self, request: Request, number: int) -> Response:
        """Give frozen limits up: the next jobs' limits are estimated afresh."""
        baseline = give_up_limits(
            baseline=access.baseline(number),
            by=self.by,
            at=timezone.now(),
            **Why.parse(request.data),
        )
        return Response(BaselineOut(baseline).data)


class RebuiltOut(Out):
    charts = serializers.IntegerField(help_text="How many were worked out again.")
    differed = serializers.ListField(
        child=serializers.CharField(), help_text="Those that were not what they should have been."
    )


class RebuildCharts(ShopView):
    body = NoBody
    answer = RebuiltOut

    @once
    def post(self, request: Request) -> Response:
        """Work every chart out again from the readings; the answer must be what was there."""
        NoBody.parse(request.data)
        return Response(RebuiltOut(rebuild_all(at=timezone.now(), by=self.by)).data)


class RuleSetOut(Out):
    rule_set = serializers.ChoiceField(choices=RuleSet.choices)
    rules = serializers.ListField(child=serializers.CharField(), help_text="In words.")
    jobs_between_false_signals = serializers.FloatField(source="arl_jobs", allow_null=True)
    tenth_within_jobs = serializers.IntegerField(
        source="tenth_jobs",
        allow_null=True,
        help_text="One chart of ten has signalled with nothing wrong.",
    )
    half_within_jobs = serializers.IntegerField(source="half_jobs", allow_null=True)
    pace = serializers.CharField(
        allow_null=True, help_text="How often the patterns signal with nothing wrong."
    )
    is_chosen = serializers.BooleanField()


class RuleSetsOut(Out):
    """`lines_pace`: how often the lines beside the patterns signal with nothing wrong."""

    rule_sets = RuleSetOut(many=True, source="rows")
    lines_pace = serializers.CharField(allow_null=True)
    jobs_per_month = serializers.FloatField(allow_null=True)


class RuleSetsView(ShopView):
    answer = RuleSetsOut

    def get(self, request: Request) -> Response:
        """The sets of patterns a shop may pick, and what each costs in false signals here."""
        found = rule_sets(shop_policy(), now=timezone.now())
        return Response(RuleSetsOut(found).data)
