"""What the lathe's sums take and how their answers are told."""

from __future__ import annotations

from rest_framework import serializers

from api.answers import DegreesOut, Out
from api.bodies import Body
from api.fields import StrictNumber, StrictWhole, degrees
from api.lengths import LengthOut, MmIn
from api.v1.step_bodies import ReadingsIn
from qc.errors import AnglesDoNotSpan


class IndicatingSumIn(ReadingsIn):
    dial_step = MmIn(required=False, help_text="The finest division of the dial.")
    lever_angle_deg = StrictNumber(
        max_digits=5, decimal_places=2, required=False, help_text="Of a lever to the surface."
    )
    jaws = StrictWhole(required=False, min_value=3, max_value=4)
    limit = MmIn(required=False, help_text="The most total runout that is accepted.")


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


class IndicatingSumOut(Out):
    tir = LengthOut(source="runout.tir_mm")
    u_tir = LengthOut(source="runout.u_tir_mm")
    eccentricity = OffsetOut(source="runout.eccentricity")
    u_eccentricity = LengthOut(source="runout.u_eccentricity_mm")
    form_left = LengthOut(source="runout.form_left_mm", allow_null=True)
    tap = TapOut()
    standing = serializers.CharField()


class RunIn(ReadingsIn):
    clocking_deg = degrees(help_text="Where on the engine's clock the index mark stood.")
    gauge_step = MmIn(help_text="The finest division the gauge shows.")

    @staticmethod
    def no_tilt(positions: int) -> AnglesDoNotSpan:
        return AnglesDoNotSpan(got=positions, fields=("readings",))


class ClockingSumIn(Body):
    first = RunIn()
    second = RunIn()


class PartedTiltOut(Out):
    amount = LengthOut(source="amount_mm", help_text="Half the side-to-side difference.")
    u_amount = LengthOut(source="u_amount_mm")
    wide_toward_deg = DegreesOut(allow_null=True)
    is_seen = serializers.BooleanField()


class ClockingSumOut(Out):
    turn_deg = DegreesOut()
    engine = PartedTiltOut(allow_null=True)
    fixture = PartedTiltOut(allow_null=True)
    tells = serializers.ListField(child=serializers.CharField())
    does_not_tell = serializers.ListField(child=serializers.CharField())


class CuttingSumIn(Body):
    diameter = MmIn(help_text="The largest diameter being faced.")
    edge_radius_um = StrictNumber(max_digits=7, decimal_places=2)
    nose_radius = MmIn()
    surface_speed_m_min = StrictNumber(max_digits=6, decimal_places=1, required=False)
    feed = MmIn(required=False, help_text="Each turn.")


class CuttingSumOut(Out):
    spindle_rpm = serializers.FloatField()
    is_held = serializers.BooleanField(help_text="The shop's most for an unbalanced casting.")
    surface_speed_m_min = serializers.FloatField()
    feed = LengthOut(source="feed_mm")
    rt_um = serializers.FloatField()
    ra_um = serializers.FloatField()
    smallest_chip = LengthOut(source="smallest_chip_mm")
