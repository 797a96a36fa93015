"""Charts as the API tells them: one row a job, the limits, and what the chart makes of it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from rest_framework import serializers

from api.answers import DegreesOut, NamedOut, Out
from api.lengths import LengthOut
from qc.lookups.charts.error_charts import ErrorChart
from qc.lookups.charts.fixture_chart import FixtureChart
from qc.models import Channel, VerdictKind
from qc.numerics.tilt import EVEN_MM, direction_deg


class SideToSideOut(Out):
    """A side-to-side difference at a 20 mm radius, on the fixture's clock. No direction: none."""

    toward_0 = LengthOut()
    toward_90 = LengthOut()
    side_to_side = LengthOut()
    wide_toward_deg = DegreesOut(allow_null=True)


def side_to_side(vector: Any) -> dict[str, Any]:
    x, y = float(vector[0]), float(vector[1])
    size = math.hypot(x, y)
    return {
        "toward_0": x,
        "toward_90": y,
        "side_to_side": size,
        "wide_toward_deg": direction_deg(x, y) if size > EVEN_MM else None,
    }


class ChartJobOut(Out):
    job = serializers.IntegerField(source="point.job_id")
    round = serializers.IntegerField(source="point.round_number")
    at = serializers.DateTimeField(source="point.at")
    verdict = serializers.ChoiceField(source="point.verdict", choices=VerdictKind.choices)


class TiltRowOut(ChartJobOut):
    """`estimate`: where the fixture's tilt sits as known after this job, and how sure."""

    tilt = SideToSideOut()
    statistic = serializers.FloatField()
    signal = serializers.BooleanField()
    estimate = SideToSideOut()
    estimate_sd = LengthOut(help_text="Standard deviation of the estimate on each axis.")


class ChangeOut(Out):
    """The move the chart sees since the last service: its likeliest first job, and those that
    hold it with 90 % probability."""

    signalled_at = ChartJobOut()
    moved_at = ChartJobOut()
    moved_from = ChartJobOut()
    moved_to = ChartJobOut()
    shift = SideToSideOut()
    after = SideToSideOut()


class FixtureChartOut(Out):
    fixture = NamedOut()
    limit = serializers.FloatField(help_text="The statistic beyond it signals.")
    noise_sd = LengthOut(help_text="Of one job, on one axis.")
    jobs = TiltRowOut(many=True)
    change = ChangeOut(allow_null=True)


def fixture_chart_facts(chart: FixtureChart) -> dict[str, Any]:
    rows, change = chart.chart, chart.current_change
    return {
        "limit": chart.limit,
        "noise_sd": chart.noise_sd_mm,
        "jobs": [
            {
                "point": point,
                "tilt": side_to_side(point.tilt_mm),
                "statistic": float(rows.statistic[i]),
                "signal": bool(rows.signal[i]),
                "estimate": side_to_side(rows.estimate_mm[i]),
                "estimate_sd": math.sqrt(float(rows.estimate_cov_mm2[i][0, 0])),
            }
            for i, point in enumerate(chart.jobs)
        ],
        "change": change
        and {
            "signalled_at": {"point": chart.jobs[change.signalled_at]},
            "moved_at": {"point": chart.jobs[change.onset]},
            "moved_from": {"point": chart.jobs[change.onset_from]},
            "moved_to": {"point": chart.jobs[change.onset_to]},
            "shift": side_to_side(change.shift_mm),
            "after": side_to_side(change.after_mm),
        },
    }


class IndividualsLimitsOut(Out):
    centre = LengthOut()
    lower = LengthOut()
    upper = LengthOut()
    sigma = LengthOut()
    gauge_too_coarse = serializers.BooleanField(source="is_zero_width")


class ErrorRowOut(ChartJobOut):
    value = LengthOut()
    beyond = serializers.BooleanField(allow_null=True)
    moving_range = LengthOut(allow_null=True)
    ewma = LengthOut(allow_null=True)
    ewma_half_width = LengthOut(allow_null=True)
    ewma_signal = serializers.BooleanField(allow_null=True)


class ErrorChartOut(Out):
    """`limits` is null, and nothing is judged, while the baseline is too thin."""

    channel = serializers.ChoiceField(choices=Channel.choices)
    lathe = NamedOut(allow_null=True)
    jobs_wanted = serializers.IntegerField(help_text="How many more before it can judge.")
    jobs_between_false_signals = serializers.FloatField(source="arl_jobs")
    limits = IndividualsLimitsOut(source="individuals.limits", allow_null=True)
    jobs = serializers.SerializerMethodField()

    def get_jobs(self, chart: ErrorChart) -> Any:
        return ErrorRowOut(list(_error_rows(chart)), many=True).data


def _error_rows(chart: ErrorChart) -> Iterator[dict[str, Any]]:
    for i, point in enumerate(chart.jobs):
        is_target = chart.channel == Channel.TARGET_ERROR
        row = {
            "point": point,
            "value": point.target_error_mm if is_target else point.height_error_mm,
            **dict.fromkeys(("beyond", "moving_range", "ewma", "ewma_half_width", "ewma_signal")),
        }
        if chart.individuals is not None and chart.ewma is not None:
            moved = float(chart.individuals.moving_range[i])
            row |= {
                "beyond": bool(chart.individuals.beyond[i]),
                "moving_range": None if math.isnan(moved) else moved,
                "ewma": float(chart.ewma.z[i]),
                "ewma_half_width": float(chart.ewma.half_width[i]),
                "ewma_signal": bool(chart.ewma.signal[i]),
            }
        yield row
