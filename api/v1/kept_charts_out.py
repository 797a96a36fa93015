"""A chart of errors as the API tells it: values, what each was held against, what fired."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rest_framework import serializers

from api.answers import NamedOut, Out
from api.lengths import LengthOut
from qc.lookups.charts.chart_lane import ChartLane
from qc.lookups.charts.chart_lanes import View
from qc.lookups.charts.chart_page import ChartPage, ChartSignal
from qc.lookups.charts.kept_errors import ErrorChartKept
from qc.lookups.charts.scopes import SHOP
from qc.models import Baseline, Channel

LANE_NUMBERS = ("value", "centre", "lower", "upper")


class BaselineOut(Out):
    """`jobs` made the limits. They hold for jobs measured from `holds_from` on, and before
    `holds_until` once they were given up."""

    id = serializers.IntegerField()
    channel = serializers.SerializerMethodField()
    whose = serializers.SerializerMethodField()
    centre = LengthOut(source="centre_mm")
    sigma = LengthOut(source="sigma_mm")
    jobs = serializers.SerializerMethodField()
    holds_from = serializers.DateTimeField()
    holds_until = serializers.DateTimeField(allow_null=True)
    frozen_at = serializers.DateTimeField()
    frozen_by = serializers.CharField(source="frozen_by.username")
    why = serializers.CharField()
    ended_at = serializers.DateTimeField(allow_null=True)
    ended_by = serializers.CharField(source="ended_by.username", allow_null=True, default=None)
    why_ended = serializers.CharField()

    def get_channel(self, baseline: Baseline) -> str:
        return str(ErrorChartKept.of_key(baseline.chart.key).channel)

    def get_whose(self, baseline: Baseline) -> str:
        """ "shop", or such as "lathe/3"."""
        return str(ErrorChartKept.of_key(baseline.chart.key).scope)

    def get_jobs(self, baseline: Baseline) -> list[int]:
        return sorted({one.job_id for one in baseline.rounds.all()})


class MeasureOut(Out):
    """A length, or a plain number, whose unit is 1."""

    value = serializers.CharField(help_text="As text, to six places.")
    unit = serializers.ChoiceField(choices=["mm", "1"])

    def to_representation(self, instance: tuple[float, str]) -> dict[str, Any]:
        number, unit = instance
        return {**LengthOut().to_representation(number), "unit": unit}


class LaneRowOut(Out):
    job = serializers.IntegerField()
    round = serializers.IntegerField()
    at = serializers.DateTimeField()
    value = MeasureOut()
    centre = MeasureOut(allow_null=True)
    lower = MeasureOut(allow_null=True)
    upper = MeasureOut(allow_null=True)
    signal = serializers.CharField(allow_blank=True, help_text="The rule that fired, in words.")


class LaneOut(Out):
    name = serializers.CharField()
    jobs = LaneRowOut(many=True)


class ChartSignalOut(Out):
    job = serializers.IntegerField(source="point.job_id")
    round = serializers.IntegerField(source="point.round_number")
    at = serializers.DateTimeField(source="point.at")
    rule = serializers.CharField()
    value = LengthOut(source="value_mm")
    limit = LengthOut(source="limit_mm", allow_null=True)
    made_by = serializers.SerializerMethodField()

    def get_made_by(self, signal: ChartSignal) -> list[int]:
        """The jobs that made the pattern, oldest first."""
        return [one.job_id for one in signal.made_by]


class ChartServiceOut(Out):
    at = serializers.DateTimeField()
    subject = serializers.CharField(source="subject.name")
    kind = serializers.CharField()


class ChartPageOut(Out):
    """The newest jobs. `centre` and `sigma` are those in force; null while the baseline is thin."""

    channel = serializers.ChoiceField(choices=Channel.choices)
    whose = serializers.SerializerMethodField()
    subject = NamedOut(allow_null=True)
    view = serializers.ChoiceField(choices=[one.value for one in View])
    views = serializers.ListField(child=serializers.CharField())
    centre = LengthOut(source="centre_mm", allow_null=True)
    sigma = LengthOut(source="sigma_mm", allow_null=True)
    baseline = BaselineOut(allow_null=True)
    jobs_wanted = serializers.IntegerField(help_text="How many more before it can judge.")
    gauge_too_coarse = serializers.BooleanField(source="is_coarse")
    note = serializers.CharField(source="found.note", allow_blank=True)
    lanes = serializers.SerializerMethodField()
    signals = ChartSignalOut(many=True)
    services = ChartServiceOut(many=True)

    def get_whose(self, found: ChartPage) -> str:
        """ "shop", or such as "lathe/3"."""
        return str(SHOP if found.subject is None else found.scope)

    def get_lanes(self, found: ChartPage) -> Any:
        lanes = [
            {"name": lane.name, "jobs": list(_rows(lane, found))} for lane in found.found.lanes
        ]
        return LaneOut(lanes, many=True).data


def _rows(lane: ChartLane, found: ChartPage) -> Iterator[dict[str, Any]]:
    for i, row in enumerate(found.found.rows):
        if lane.values[i] is None:
            continue
        centre = lane.centre[i] if lane.centre else None
        unit = "mm" if lane.is_length else "1"
        numbers = zip(LANE_NUMBERS, (lane.values[i], centre, *lane.limits[i]), strict=True)
        yield {
            "job": row.point.job_id,
            "round": row.point.round_number,
            "at": row.point.at,
            **{name: None if one is None else (one, unit) for name, one in numbers},
            "signal": lane.said[i],
        }
