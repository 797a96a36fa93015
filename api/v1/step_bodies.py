"""What each step of a job takes. Fields are named as the operations name what they are given."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from api.bodies import Body, Why
from api.fields import PersonNamed, Ref, StrictNumber, StrictText, StrictWhole, StrictYesNo, degrees
from api.lengths import LengthIn
from qc import access
from qc.models import Kind, Step
from qc.operations.reading_rows import ReadingIn

MOST_READINGS = 200


class JobIn(Body):
    cylinder = Ref(access.cylinder)
    target = LengthIn(required=False, help_text="The family's where it is left out.")
    tol_minus = LengthIn(required=False)
    tol_plus = LengthIn(required=False)
    note = StrictText(required=False, allow_blank=True)
    confirm = StrictYesNo(
        required=False, help_text="The limits are meant although they are far from the family's."
    )
    beside_open = StrictYesNo(
        required=False, help_text="Another job is meant although the cylinder has one open."
    )


class LimitsIn(Why):
    target = LengthIn(required=False, help_text="Left out, it stays; so do the tolerances.")
    tol_minus = LengthIn(required=False)
    tol_plus = LengthIn(required=False)
    confirm = StrictYesNo(
        required=False, help_text="The limits are meant although they are far from the family's."
    )


class OneReadingIn(Body):
    position_deg = degrees(help_text="On the clock of what is measured.")
    length = LengthIn()
    piece = StrictWhole(required=False, min_value=1, max_value=99)
    crush = StrictWhole(required=False, min_value=1, max_value=99)
    plane = StrictWhole(required=False, min_value=1, max_value=9)


class ReadingsIn(Body):
    readings = OneReadingIn(many=True, max_length=MOST_READINGS)  # type: ignore[call-arg]

    def validate_readings(self, rows: list[dict[str, Any]]) -> list[ReadingIn]:
        return [ReadingIn(**row, field=f"readings.{i}.length") for i, row in enumerate(rows)]


class AddedReadingsIn(ReadingsIn):
    confirm = StrictYesNo(required=False, help_text="The unit is right although it looks doubtful.")


class AsFoundIn(AddedReadingsIn):
    gauge = Ref(access.gauge)
    base_gasket = LengthIn(help_text="Compressed, in place while measuring; 0 for a bare base.")
    solder = LengthIn(required=False, help_text="Diameter of the wire before the crush.")
    bolts_torqued = StrictYesNo(required=False)
    measuring_radius = LengthIn(required=False, help_text="The family's where it is left out.")
    measured_by = PersonNamed(
        access.person_named, required=False, help_text="The token's owner where it is left out."
    )
    why_fewer = StrictText(required=False, help_text="Why there are fewer than four positions.")
    why_again = StrictText(required=False, help_text="Why the set is taken again in this round.")
    note = StrictText(required=False, allow_blank=True)


class AchievedIn(AsFoundIn):
    why_no_cut = StrictText(required=False, help_text="Why there is no cut on the record.")
    parts_changed = StrictYesNo(
        required=False,
        help_text="Piston, rod, head, head gasket or crankcase changed since as-found.",
    )


class PlanIn(Body):
    gasket_next = LengthIn(help_text="Compressed gasket to be fitted; 0 for a bare base.")
    flange = LengthIn(required=False, help_text="Flange height measured now.")


class SetUpIn(Body):
    fixture = Ref(access.fixture)
    lathe = Ref(access.lathe)
    edge = Ref(access.edge)
    clocking_deg = degrees(
        allow_null=True,
        help_text="Where on the engine's clock the fixture's index mark stands; null keeps the "
        "job off the fixture's chart.",
    )
    operator = PersonNamed(access.person_named, required=False)
    dial_factor = StrictNumber(
        max_digits=7, decimal_places=5, required=False, help_text="The lathe's where left out."
    )
    confirm = StrictYesNo(
        required=False, help_text="The fixture fits although it never held this family."
    )


class IndicatingIn(ReadingsIn):
    kind = serializers.ChoiceField(choices=[Kind.INDICATED_SNUG.value, Kind.INDICATED_TIGHT.value])
    gauge = Ref(access.gauge, required=False)
    lever_angle_deg = StrictNumber(
        max_digits=4,
        decimal_places=2,
        required=False,
        help_text="Between a lever indicator's arm and the surface.",
    )
    confirm = StrictYesNo(
        required=False, help_text="The dial is right although one reading stands off the circle."
    )


class TouchOffIn(Body):
    dial = LengthIn(help_text="Signed.")
    paper = LengthIn(required=False, help_text="Thickness of the paper touched, if any.")


class PassIn(Body):
    dial = LengthIn(help_text="Where the dial stood at the end of the pass; signed.")
    is_spring = StrictYesNo(required=False, help_text="A spring pass adds no depth.")
    confirm = StrictYesNo(required=False, help_text="The dial is right although it is too deep.")


class SkipIn(Why):
    step = serializers.ChoiceField(choices=Step.choices)


class CutAgainIn(Body):
    why = StrictText(
        required=False,
        help_text="Needed unless the verdict asks for another cut, or says that one helps.",
    )


class CorrectionIn(Body):
    take = StrictYesNo(help_text="true: into the dial targets. false: leave it out.")


class VoidPassIn(Why):
    replacement = LengthIn(required=False, help_text="The dial as it should have been written.")


class VoidReadingIn(Why):
    replacement = LengthIn(required=False, help_text="The right value, where there is one.")
    confirm = StrictYesNo(required=False)
