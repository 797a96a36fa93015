"""What resources take and how they are told."""

from __future__ import annotations

from rest_framework import serializers

from api.answers import NamedOut, Out
from api.bodies import Body, Change, Listing
from api.fields import Ref, StrictNumber, StrictText, StrictWhole, StrictYesNo
from api.lengths import LengthIn, LengthOut, MeasuredOut, MmIn
from qc import access
from qc.models import CauseFound, ServiceKind


class ResourceFilters(Listing):
    retired = serializers.BooleanField(required=False, help_text="false: only those in use.")


class ResourceIn(Body):
    name = StrictText(max_length=60)
    note = StrictText(required=False, allow_blank=True)


class FixtureIn(ResourceIn):
    planes_apart = MmIn(
        source="planes_apart_mm",
        required=False,
        allow_null=True,
        help_text="Along the axis between the two circles it is indicated on.",
    )
    to_face = MmIn(
        source="to_face_mm", required=False, help_text="From the second circle to the base."
    )
    jaws = StrictWhole(required=False, help_text="Of the chuck: 3 or 4.")


class FixtureChange(Change, FixtureIn):
    pass


class LatheIn(ResourceIn):
    dial_factor = StrictNumber(
        max_digits=7,
        decimal_places=5,
        required=False,
        help_text="Depth along the spindle per unit on the dial: 1 for the carriage.",
    )


class LatheChange(Change, LatheIn):
    pass


def found_in() -> serializers.ChoiceField:
    return serializers.ChoiceField(
        choices=CauseFound.choices,
        required=False,
        help_text="What this says of the open flags that suspect it with 0.1 or more. here: they "
        "close with the cause in it, and the note says what was seen. in_order: it is left to the "
        "other suspects; with none left they close with no cause found. to_be_seen: they stay "
        "open, and the jobs after it say whether it was the one. not_known, as without it: they "
        "are cleared, outside the score. Refused where no open flag suspects it, unless "
        "not_known.",
    )


class EdgeIn(ResourceIn):
    """A fresh edge in a holder slot; the one that was there is retired."""

    lathe = Ref(access.lathe)
    slot = StrictText(max_length=20)
    edge_radius_um = StrictNumber(max_digits=7, decimal_places=2, help_text="Micrometres.")
    nose_radius = MmIn(source="nose_radius_mm", required=False)
    found = found_in()
    found_note = StrictText(
        required=False, allow_blank=True, help_text="What was seen on the edge that was there."
    )


class EdgeChange(Change, ResourceIn):
    nose_radius = MmIn(source="nose_radius_mm")


class GaugeIn(ResourceIn):
    serial = StrictText(max_length=60, required=False, allow_blank=True)
    step = LengthIn(help_text="The finest division it shows.")
    calibration_due = serializers.DateField(required=False, allow_null=True)
    calibration_u = MmIn(
        source="calibration_u_mm",
        required=False,
        help_text="Standard uncertainty of its certificate.",
    )


class GaugeChange(Change, ResourceIn):
    serial = StrictText(max_length=60, allow_blank=True)


class ServiceIn(Body):
    kind = serializers.ChoiceField(choices=ServiceKind.choices)
    as_found = MmIn(source="as_found_mm", required=False)
    as_left = MmIn(source="as_left_mm", required=False)
    note = StrictText(required=False, allow_blank=True)
    found = found_in()
    confirm = StrictYesNo(required=False, help_text="As left is right although it looks doubtful.")


class FixtureServiceIn(ServiceIn):
    confirm = StrictYesNo(
        required=False,
        help_text="As left is right although it looks doubtful; and a flag may go though that is "
        "over the limit, and the note says why.",
    )


class GaugeServiceIn(ServiceIn):
    calibration_due = serializers.DateField(
        required=False, help_text="When the next is due; needed where the kind is calibrated."
    )
    calibration_u = MmIn(source="calibration_u_mm", required=False)


class ResourceOut(Out):
    id = serializers.IntegerField()
    version = serializers.IntegerField()
    name = serializers.CharField()
    note = serializers.CharField()
    registered_at = serializers.DateTimeField()
    retired_at = serializers.DateTimeField(allow_null=True)


class FixtureOut(ResourceOut):
    planes_apart = LengthOut(source="planes_apart_mm", allow_null=True)
    to_face = LengthOut(source="to_face_mm")
    jaws = serializers.IntegerField()


class LatheOut(ResourceOut):
    dial_factor = serializers.FloatField()


class EdgeOut(ResourceOut):
    lathe = NamedOut()
    slot = serializers.CharField()
    edge_radius_um = serializers.FloatField()
    nose_radius = LengthOut(source="nose_radius_mm")


class CorrectionOut(Out):
    """What to add to the planned depth on this edge; 0 where nothing is suggested.

    bias: the height error to expect, drawn toward zero until jobs speak for it; standard: its
    uncertainty.
    """

    correction = LengthOut(source="correction_mm")
    bias = LengthOut(source="bias_mm")
    standard = LengthOut(source="u_mm")
    noise = LengthOut(source="noise_mm")
    jobs = serializers.IntegerField()
    reason = serializers.CharField()


class GaugeOut(ResourceOut):
    serial = serializers.CharField()
    step = MeasuredOut("step_mm", as_typed="step_value", typed_unit="step_unit")
    calibration_due = serializers.DateField(allow_null=True)
    calibration_u = LengthOut(source="calibration_u_mm")


class ConfirmedOut(Out):
    """job: at which it was done, where whoever reported it said so."""

    at = serializers.DateTimeField(source="answered_at")
    by = serializers.CharField(source="answered_by.username")
    job = serializers.IntegerField(source="job_id", allow_null=True)


class ServiceOut(Out):
    """`at` and `by`: when it was done, and by whom."""

    id = serializers.IntegerField()
    kind = serializers.ChoiceField(choices=ServiceKind.choices)
    at = serializers.DateTimeField()
    by = serializers.CharField(source="by.username")
    as_found = LengthOut(source="as_found_mm", allow_null=True)
    as_left = LengthOut(source="as_left_mm", allow_null=True)
    note = serializers.CharField()
    confirmed = ConfirmedOut(
        source="reported",
        allow_null=True,
        help_text="By which lead, and when, where whoever did it reported it.",
    )
