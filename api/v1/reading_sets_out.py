"""Reading sets as the API tells them: every reading, void ones included, and what they come to."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.answers import DegreesOut, NamedOut, Out, Part
from api.lengths import LengthOut, MeasuredOut
from qc.lookups.record.gaps import GapSummary
from qc.models import Kind


class GapAtOut(Out):
    position_deg = DegreesOut()
    gap = LengthOut(source="value_mm")


class PositionOut(GapAtOut):
    pieces = serializers.IntegerField()


class ReadingVoidOut(Part):
    needs = "voided_at"
    at = serializers.DateTimeField(source="voided_at")
    by = serializers.CharField(source="voided_by.username")
    why = serializers.CharField(source="void_reason")
    replaced_by = serializers.IntegerField(source="replaced_by_id", allow_null=True)


class ReadingOut(Out):
    id = serializers.IntegerField()
    position_deg = DegreesOut()
    plane = serializers.IntegerField()
    piece = serializers.IntegerField()
    crush = serializers.IntegerField()
    length = MeasuredOut("value_mm")
    gauge_step = LengthOut(source="gauge_step_mm", allow_null=True)
    unit_confirmed = serializers.BooleanField()
    at = serializers.DateTimeField()
    by = serializers.CharField(source="by.username")
    void = ReadingVoidOut()


class FitTiltOut(Part):
    """On the engine's clock; the gap is wide where a component is positive."""

    needs = "a_mm"
    toward_0 = LengthOut(source="a_mm")
    toward_90 = LengthOut(source="b_mm")
    side_to_side = LengthOut(source="side_to_side_mm")
    wide_toward_deg = DegreesOut(allow_null=True)


class FitComponentOut(Part):
    """Two opposite positions: half their difference, positive when wide toward the axis."""

    needs = "component_mm"
    axis_deg = DegreesOut(source="component_axis_deg")
    half_difference = LengthOut(source="component_mm")


class FitOut(Out):
    """The gap round the bore. Parts that these positions cannot hold are null."""

    kind = serializers.CharField(help_text="vector, component, height or reading.")
    height = LengthOut(source="height_mm")
    lowest = LengthOut(source="lowest_mm")
    tightest = LengthOut(source="tightest_mm")
    tilt = FitTiltOut()
    component = FitComponentOut()
    misfit_rms = LengthOut(source="misfit_rms_mm", allow_null=True)
    saddle = LengthOut(source="saddle_mm", allow_null=True)


class GapSummaryOut(Out):
    fit = FitOut()
    positions = serializers.SerializerMethodField()
    spread = LengthOut(source="values.spread_mm", allow_null=True)
    spread_degrees_of_freedom = serializers.IntegerField(source="values.spread_df")
    gauge_too_coarse = serializers.BooleanField(source="values.gauge_too_coarse")

    @extend_schema_field(PositionOut(many=True))
    def get_positions(self, summary: GapSummary) -> Any:
        values = summary.values
        rows = zip(values.position_deg, values.value_mm, values.pieces, strict=True)
        return PositionOut(
            [
                {"position_deg": at, "value_mm": float(gap), "pieces": pieces}
                for at, gap, pieces in rows
            ],
            many=True,
        ).data


class ReadingSetOut(Out):
    id = serializers.IntegerField(source="set.pk")
    kind = serializers.ChoiceField(source="set.kind", choices=Kind.choices)
    at = serializers.DateTimeField(source="set.at")
    by = serializers.CharField(source="set.by.username")
    gauge = NamedOut(source="set.gauge", allow_null=True)
    gauge_overdue = serializers.BooleanField(source="set.gauge_overdue")
    solder = LengthOut(source="set.solder_mm", allow_null=True)
    base_gasket = LengthOut(source="set.base_gasket_mm", allow_null=True)
    bolts_torqued = serializers.BooleanField(source="set.bolts_torqued", allow_null=True)
    measuring_radius = LengthOut(source="set.measuring_radius_mm", allow_null=True)
    lever_angle_deg = DegreesOut(source="set.lever_angle_deg", allow_null=True)
    why_fewer = serializers.CharField(source="set.why_fewer")
    note = serializers.CharField(source="set.note")
    readings = ReadingOut(many=True)
    summary = GapSummaryOut(allow_null=True)
