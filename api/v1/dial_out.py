"""What indicating and a clocking test said, as the API tells it: summed now, or kept."""

from __future__ import annotations

from rest_framework import serializers

from api.answers import DegreesOut, Out
from api.lengths import LengthOut


class OffsetOut(Out):
    amount = LengthOut(source="amount_mm")
    x = LengthOut(source="x_mm", help_text="Toward 0 degrees.")
    y = LengthOut(source="y_mm", help_text="Toward 90 degrees.")
    high_deg = DegreesOut(allow_null=True)


class JawOut(Out):
    jaw_deg = DegreesOut()
    move = LengthOut(source="move_mm", help_text="Positive: out toward this jaw.")


class TapOut(Out):
    move = LengthOut(source="move_mm")
    strike_deg = DegreesOut(allow_null=True)
    toward_deg = DegreesOut(allow_null=True)
    jaws = JawOut(many=True)


class RunoutOut(Out):
    tir = LengthOut(source="tir_mm")
    u_tir = LengthOut(source="u_tir_mm")
    eccentricity = OffsetOut()
    u_eccentricity = LengthOut(source="u_eccentricity_mm")
    u_high_deg = DegreesOut(allow_null=True)
    form_left = LengthOut(source="form_left_mm", allow_null=True)


class PlaneOut(Out):
    """One circle; `refused` says why readings at these angles hold none."""

    plane = serializers.IntegerField()
    runout = RunoutOut(allow_null=True)
    tap = TapOut(allow_null=True)
    standing = serializers.CharField(allow_null=True)
    refused = serializers.CharField()


class LeanOut(Out):
    """How the axis leans between two circles, and what that does to base and gap."""

    x_mrad = serializers.FloatField()
    y_mrad = serializers.FloatField()
    amount_mrad = serializers.FloatField()
    u_component_mrad = serializers.FloatField()
    toward_deg = DegreesOut(allow_null=True)
    is_resolved = serializers.BooleanField()
    face_runout = LengthOut(source="face_runout_mm")
    gap_bound = LengthOut(source="gap_bound_mm", help_text="Side to side, at most.")
    u_gap_bound = LengthOut(source="u_gap_bound_mm")
    gap_expected = LengthOut(
        source="gap_expected_mm", allow_null=True, help_text="By the shop's own carry-through."
    )
    u_gap_expected = LengthOut(source="u_gap_expected_mm", allow_null=True)


class TurnOut(Out):
    set = serializers.IntegerField(help_text="The reading set it rests on.")
    planes = PlaneOut(many=True)
    lean = LeanOut(allow_null=True)


class ShiftOut(Out):
    moved = LengthOut(source="moved_mm")
    x = LengthOut(source="x_mm", help_text="Toward 0 degrees.")
    y = LengthOut(source="y_mm", help_text="Toward 90 degrees.")
    toward_deg = DegreesOut(allow_null=True)
    tir_change = LengthOut(source="tir_change_mm")
    is_resolved = serializers.BooleanField()


class AnswerOut(Out):
    """Kept as it was answered; renewed, as the next revision, when its readings change."""

    formula = serializers.CharField()
    at = serializers.DateTimeField()
    revision = serializers.IntegerField()


class IndicatedOut(AnswerOut):
    limit = LengthOut(source="limit_mm")
    snug = TurnOut(allow_null=True)
    tight = TurnOut(allow_null=True)
    shift = ShiftOut(allow_null=True, help_text="What tightening moved, in plane 1.")


class PartedTiltOut(Out):
    amount = LengthOut(source="amount_mm", help_text="Half the side-to-side difference.")
    u_amount = LengthOut(source="u_amount_mm")
    wide_toward_deg = DegreesOut(allow_null=True)
    is_seen = serializers.BooleanField()


class RunRefOut(Out):
    job = serializers.IntegerField()
    round = serializers.IntegerField()
    revision = serializers.IntegerField(help_text="Of the result it rests on.")
    clocking_deg = DegreesOut()


class ShareOut(Out):
    value = serializers.FloatField()
    u = serializers.FloatField()


class CarriedOut(Out):
    """Share of the indicated lean that reached the gap."""

    overall = ShareOut(allow_null=True)
    across_pin = ShareOut(allow_null=True)
    along_pin = ShareOut(allow_null=True)
    follows = serializers.BooleanField(allow_null=True)


class FixtureRefOut(Out):
    id = serializers.IntegerField()
    name = serializers.CharField()


class ClockingTestOut(AnswerOut):
    on = FixtureRefOut(source="fixture")
    first = RunRefOut()
    second = RunRefOut()
    turn_deg = DegreesOut()
    engine = PartedTiltOut(allow_null=True)
    fixture = PartedTiltOut(source="fixture_part", allow_null=True)
    carried = CarriedOut(allow_null=True)
    tells = serializers.ListField(child=serializers.CharField())
    does_not_tell = serializers.ListField(child=serializers.CharField())
