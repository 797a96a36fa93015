"""What the lathe's sums take and how their answers are told."""

from __future__ import annotations

from rest_framework import serializers

from api.answers import DegreesOut, Out
from api.bodies import Body
from api.fields import StrictNumber, StrictWhole, degrees
from api.lengths import LengthOut, MmIn
from api.v1.dial_out import OffsetOut, PartedTiltOut, TapOut
from api.v1.step_bodies import ReadingsIn
from qc.errors import AnglesDoNotSpan


class IndicatingSumIn(ReadingsIn):
    dial_step = MmIn(required=False, help_text="The finest division of the dial.")
    lever_angle_deg = StrictNumber(
        max_digits=5, decimal_places=2, required=False, help_text="Of a lever to the surface."
    )
    jaws = StrictWhole(required=False, min_value=3, max_value=4)
    limit = MmIn(required=False, help_text="The most total runout that is accepted.")


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
