"""A round's result as the API tells it: the channels, the budget, the rule and the verdict."""

from __future__ import annotations

from rest_framework import serializers

from api.answers import DegreesOut, Out, Part
from api.lengths import LengthOut
from api.v1.reading_sets_out import GapAtOut, PositionOut
from qc.models import VerdictKind


class TiltOut(Part):
    """On the engine's clock, at the measuring radius; positive where the gap is wide."""

    needs = "tilt_cos_mm"
    toward_0 = LengthOut(source="tilt_cos_mm")
    toward_90 = LengthOut(source="tilt_sin_mm")
    side_to_side = LengthOut(source="side_to_side_mm")
    wide_toward_deg = DegreesOut()


class AsFoundTiltOut(Part):
    needs = "as_found_tilt_cos_mm"
    toward_0 = LengthOut(source="as_found_tilt_cos_mm")
    toward_90 = LengthOut(source="as_found_tilt_sin_mm")


class ComponentOut(Part):
    needs = "tilt_component_mm"
    axis_deg = DegreesOut(source="tilt_component_axis_deg")
    half_difference = LengthOut(source="tilt_component_mm")


class CombinedOut(Out):
    """A standard uncertainty and the expanded one at 95 %."""

    standard = LengthOut(source="u_mm")
    expanded = LengthOut(source="expanded_mm")
    coverage_factor = serializers.FloatField(source="k")
    degrees_of_freedom = serializers.FloatField(source="df", allow_null=True)


class UncertaintyOut(Out):
    height = CombinedOut()
    side_to_side = CombinedOut(allow_null=True)
    tightest = CombinedOut()


class BudgetLineOut(Out):
    """One source; each reach is how much of it arrives in that result."""

    name = serializers.CharField()
    acts_on = serializers.CharField()
    distribution = serializers.CharField()
    standard = LengthOut(source="u_mm")
    reach_height = serializers.FloatField(source="c_height")
    reach_side_to_side = serializers.FloatField(source="c_side_to_side", allow_null=True)
    reach_tightest = serializers.FloatField(source="c_tightest")
    degrees_of_freedom = serializers.FloatField(source="df", allow_null=True)
    gauge_study = serializers.CharField(
        source="source", default="", help_text="The study it comes from, or empty."
    )


class SaidOut(Out):
    """A sentence as its code and its facts; those that end in _mm are numbers in mm."""

    code = serializers.CharField()
    facts = serializers.DictField(child=serializers.JSONField())


class VerdictOut(Out):
    """Probabilities are chances that the true value meets its limit (JCGM 106)."""

    kind = serializers.ChoiceField(choices=VerdictKind.choices)
    reasons = serializers.ListField(child=serializers.CharField())
    said = SaidOut(many=True, default=[], help_text="The reasons as codes and numbers.")
    rule = serializers.CharField()
    another_pass_helps = serializers.BooleanField()
    another_pass_reason = serializers.CharField()
    another_pass_said = SaidOut(allow_null=True, default=None)
    probability_height = serializers.FloatField()
    probability_tightest = serializers.FloatField()
    probability_evenness = serializers.FloatField(allow_null=True)
    guard_height = LengthOut(source="guard_height_mm")
    guard_tightest = LengthOut(source="guard_tightest_mm")
    guard_evenness = LengthOut(source="guard_evenness_mm", allow_null=True)


class SuspectOut(Out):
    position_deg = DegreesOut()
    by = LengthOut(source="by_mm", help_text="Positive: wider. Of pieces: from least to most.")


class ApartOut(Out):
    """One position, or the pieces at one, apart from the rest by more than repeats explain. More
    than one suspect: which it is cannot be told."""

    kind = serializers.ChoiceField(choices=["position", "pieces"])
    suspects = SuspectOut(many=True)
    explained = LengthOut(source="explained_mm", help_text="The most that repeats explain.")


class NextCutOut(Out):
    depth = LengthOut(source="depth_mm")
    smallest_chip = LengthOut(source="smallest_chip_mm")
    limited_by = serializers.CharField()


class ResultOut(Out):
    """Errors are positive when the gap came out wider."""

    revision = serializers.IntegerField()
    computed_at = serializers.DateTimeField()
    measured_at = serializers.DateTimeField()
    formula = serializers.CharField()
    height = LengthOut(source="height_mm")
    tightest = LengthOut(source="tightest_mm")
    tilt = TiltOut()
    component = ComponentOut()
    as_found_tilt = AsFoundTiltOut()
    spread = LengthOut(source="spread_mm", allow_null=True)
    spread_degrees_of_freedom = serializers.IntegerField(source="spread_df")
    predicted = LengthOut(source="predicted_mm", allow_null=True)
    depth_cut = LengthOut(source="depth_cut_mm", allow_null=True)
    depth_is_planned = serializers.BooleanField()
    target_error = LengthOut(source="target_error_mm")
    height_error = LengthOut(source="height_error_mm", allow_null=True)
    measuring_radius = LengthOut(source="measuring_radius_mm")
    is_reading_only = serializers.BooleanField()
    positions = PositionOut(many=True, source="detail.positions")
    predicted_positions = GapAtOut(many=True, source="detail.predicted_positions", allow_null=True)
    stands_apart = ApartOut(many=True, source="detail.stands_apart", default=[])
    uncertainty = UncertaintyOut(source="detail.expanded")
    budget = BudgetLineOut(many=True, source="detail.budget")
    next_cut = NextCutOut(source="detail.next_cut")
    verdict = VerdictOut(source="detail.verdict")
