"""What gauge studies take and how they are told."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from api.answers import NamedOut, Out, Part
from api.bodies import Body, Listing
from api.fields import PersonNamed, Ref, StrictText, StrictWhole, StrictYesNo
from api.lengths import LengthIn, LengthOut, MeasuredOut
from qc import access
from qc.models import Repeats


class StudyFilters(Listing):
    open = serializers.BooleanField(required=False, help_text="true: only those still being read.")


class StudyIn(Body):
    name = StrictText(max_length=60)
    gauges = serializers.ListField(child=Ref(access.gauge), min_length=1, max_length=12)
    people = serializers.ListField(
        child=PersonNamed(access.person_named),
        min_length=1,
        max_length=12,
        help_text="Sign-in names of those who read.",
    )
    parts = StrictWhole(help_text="How many pieces.")
    trials = StrictWhole(help_text="How often each hand reads each piece.")
    pieces_are = StrictText(max_length=80, help_text="Such as: crushed solder.")
    repeats = serializers.ChoiceField(
        choices=Repeats.choices,
        help_text="What a trial repeats. Only fresh pieces can replace the shop's usual spread.",
    )
    nominal = LengthIn(help_text="About what the pieces measure; catches a wrong unit.")
    tolerance = LengthIn(help_text="Full width to hold the scatter against.")
    note = StrictText(required=False, allow_blank=True)


class TrialIn(Body):
    turn = StrictWhole(help_text="The number of the turn, as `next` tells it.")
    length = LengthIn()
    confirm = StrictYesNo(required=False, help_text="The unit is right although it looks odd.")


class StudyTurnOut(Out):
    turn = serializers.IntegerField(source="order")
    piece = serializers.IntegerField(source="part")
    gauge = NamedOut()


class HandOut(Out):
    person = serializers.CharField(source="person.username")
    turns = serializers.IntegerField()
    read = serializers.IntegerField()
    left_out = serializers.IntegerField()
    next = StudyTurnOut(allow_null=True)


class StudyReadingOut(Out):
    """`length` is null while the study is open: nobody sees what was read."""

    id = serializers.IntegerField()
    turn = serializers.IntegerField(source="turn.order")
    person = serializers.CharField(source="turn.person.username")
    gauge = NamedOut(source="turn.gauge")
    piece = serializers.IntegerField(source="turn.part")
    trial = serializers.IntegerField(source="turn.trial")
    length = MeasuredOut("value_mm", allow_null=True)
    at = serializers.DateTimeField()
    by = serializers.CharField(source="by.username")
    voided_at = serializers.DateTimeField(allow_null=True)
    void_reason = serializers.CharField()

    def to_representation(self, instance: Any) -> Any:
        told = super().to_representation(instance)
        return {**told, "length": None} if instance.turn.study.is_open else told


class InteractionOut(Out):
    """Pooled into repeatability where its F test gives p over `pooled_above_p`."""

    pooled = serializers.BooleanField()
    could_be_told = serializers.BooleanField()
    p = serializers.FloatField(allow_null=True)
    pooled_above_p = serializers.FloatField()


class ComponentsOut(Out):
    """Standard deviations; grr is repeatability and reproducibility together."""

    part = LengthOut(source="part_mm")
    operator = LengthOut(source="operator_mm")
    interaction = LengthOut(source="interaction_mm")
    repeatability = LengthOut(source="repeatability_mm")
    reproducibility = LengthOut(source="reproducibility_mm")
    grr = LengthOut(source="grr_mm")


class IntervalsOut(Out):
    """Low and high, 95 %."""

    repeatability = LengthOut(source="repeatability_mm", many=True)
    reproducibility = LengthOut(source="reproducibility_mm", many=True)
    grr = LengthOut(source="grr_mm", many=True)
    part = LengthOut(source="part_mm", many=True)


class FreedomOut(Out):
    repeatability = serializers.FloatField()
    operator = serializers.FloatField(allow_null=True)
    interaction = serializers.FloatField(allow_null=True)
    grr = serializers.FloatField(allow_null=True)


class LeaningOut(Out):
    """By how much a hand reads over (positive) or under the mean of all hands."""

    person = serializers.CharField()
    gauge = serializers.CharField()
    leans = LengthOut(source="leans_mm")


class StudyResultOut(Out):
    """As it was worked out when the study was closed."""

    formula = serializers.CharField()
    readings = serializers.IntegerField()
    interaction = InteractionOut()
    components = ComponentsOut(help_text="By analysis of variance.")
    reml = ComponentsOut(help_text="By restricted maximum likelihood.")
    intervals = IntervalsOut()
    degrees_of_freedom = FreedomOut(source="df")
    same_hand = LengthOut(
        source="same_hand_mm", help_text="One hand's two readings differ by no more, 95 %."
    )
    two_hands = LengthOut(
        source="two_hands_mm", help_text="Two hands' readings differ by no more, 95 %."
    )
    share_of_tolerance = serializers.FloatField(help_text="6 grr over the tolerance.")
    share_interval = serializers.ListField(child=serializers.FloatField())
    classes = serializers.FloatField(allow_null=True)
    too_coarse = serializers.BooleanField()
    hands = LeaningOut(many=True)


class UseOut(Out):
    """Taken as the shop's, or set aside again."""

    taken = serializers.BooleanField(source="is_taken")
    at = serializers.DateTimeField()
    by = serializers.CharField(source="by.username")
    why = serializers.CharField()
    says = serializers.CharField(help_text="How budgets name it.")


class StudyClosedOut(Part):
    needs = "closed_at"
    at = serializers.DateTimeField(source="closed_at")
    by = serializers.CharField(source="closed_by.username")
    why = serializers.CharField(source="closed_why")


class StudyRowOut(Out):
    id = serializers.IntegerField()
    name = serializers.CharField()
    pieces_are = serializers.CharField()
    repeats = serializers.ChoiceField(choices=Repeats.choices)
    parts = serializers.IntegerField()
    trials = serializers.IntegerField()
    nominal = LengthOut(source="nominal_mm")
    tolerance = MeasuredOut("tolerance_mm", as_typed="tolerance_value", typed_unit="tolerance_unit")
    opened_at = serializers.DateTimeField()
    opened_by = serializers.CharField(source="opened_by.username")
    closed = StudyClosedOut()
    note = serializers.CharField()


class StudyOut(Out):
    """`result` is null while the study is open, and where it showed nothing: `refused` says why."""

    study = StudyRowOut()
    gauges = NamedOut(many=True)
    hands = HandOut(many=True)
    readings = StudyReadingOut(many=True)
    result = StudyResultOut(allow_null=True)
    refused = serializers.CharField()
    uses = UseOut(many=True)
