"""A job as the API tells it: one line of a list, and the whole record."""

from __future__ import annotations

from rest_framework import serializers

from api.answers import DegreesOut, NamedOut, Out, Part
from api.lengths import LengthOut, MeasuredOut
from api.v1.dial_out import ClockingTestOut, IndicatedOut
from api.v1.reading_sets_out import GapAtOut, ReadingSetOut
from api.v1.results_out import ResultOut, SaidOut
from qc.models import State, Step, VerdictKind


class JobRowOut(Out):
    number = serializers.IntegerField()
    state = serializers.ChoiceField(choices=State.choices)
    family = serializers.CharField()
    serial = serializers.CharField()
    customer_reference = serializers.CharField()
    opened_at = serializers.DateTimeField()
    round = serializers.IntegerField(source="round_number")
    fixture = serializers.CharField(allow_null=True)
    verdict = serializers.ChoiceField(choices=VerdictKind.choices, allow_null=True)
    target_error = LengthOut(source="target_error_mm", allow_null=True)
    side_to_side = LengthOut(source="side_to_side_mm", allow_null=True)


class PlanOut(Out):
    """How deep to cut, what set the depth, in which passes, and what the cut will leave."""

    depth = LengthOut(source="depth_mm")
    limited_by = serializers.CharField(help_text="target, floor, material or none.")
    reason = serializers.CharField()
    said = SaidOut(allow_null=True, default=None)
    height_after = LengthOut(source="height_after_mm")
    tightest_after = LengthOut(source="tightest_after_mm")
    target_depth = LengthOut(source="target_depth_mm")
    floor_depth = LengthOut(source="floor_depth_mm")
    material_depth = LengthOut(source="material_depth_mm", allow_null=True)
    as_found_height = LengthOut(source="as_found_height_mm")
    as_found_tightest = LengthOut(source="as_found_tightest_mm")
    gasket_found = LengthOut(source="gasket_found_mm")
    gasket_next = LengthOut(source="gasket_next_mm")
    smallest_chip = LengthOut(source="smallest_chip_mm")
    passes = LengthOut(many=True, source="passes_mm")
    passes_reason = serializers.CharField()
    passes_said = SaidOut(allow_null=True, default=None)
    predicted = GapAtOut(many=True)


class EffectOut(Out):
    """One thing the cut does to the engine, in `unit`, and for each 0.01 mm and each thou."""

    name = serializers.CharField()
    unit = serializers.CharField()
    before = serializers.FloatField()
    after = serializers.FloatField()
    per_hundredth = serializers.FloatField(allow_null=True)
    per_thou = serializers.FloatField(allow_null=True)


class FigureOut(Out):
    """One figure of the engine that the cut leaves alone, or of the cut as a whole, in `unit`."""

    name = serializers.CharField()
    unit = serializers.CharField()
    value = serializers.FloatField()


class CautionOut(Out):
    """What to mind about this cut; `says` tells whose limit it is, where there is one."""

    code = serializers.CharField()
    facts = serializers.DictField(
        child=serializers.JSONField(), default={}, help_text="Those that end in _mm are in mm."
    )
    sentence = serializers.CharField()
    caution = serializers.CharField()
    says = serializers.CharField()


class SetUpOut(Part):
    needs = "fixture_id"
    fixture = NamedOut()
    lathe = NamedOut()
    edge = NamedOut()
    clocking_deg = DegreesOut(allow_null=True)
    operator = serializers.CharField(source="operator.username")
    dial_factor = serializers.FloatField()


class PassVoidOut(Part):
    needs = "voided_at"
    at = serializers.DateTimeField(source="voided_at")
    by = serializers.CharField(source="voided_by.username")
    why = serializers.CharField(source="void_reason")


class PassOut(Out):
    id = serializers.IntegerField()
    number = serializers.IntegerField()
    dial = MeasuredOut("dial_mm")
    is_spring = serializers.BooleanField()
    at = serializers.DateTimeField()
    by = serializers.CharField(source="by.username")
    void = PassVoidOut()


class DepthOut(Out):
    cut = LengthOut(source="mm", allow_null=True)
    is_planned = serializers.BooleanField()


class SkippedOut(Out):
    step = serializers.ChoiceField(choices=Step.choices)
    why = serializers.CharField()
    at = serializers.DateTimeField()
    by = serializers.CharField(source="by.username")


class RoundOut(Out):
    number = serializers.IntegerField(source="round.number")
    opened_at = serializers.DateTimeField(source="round.opened_at")
    parts_changed = serializers.BooleanField(source="round.parts_changed")
    skipped = SkippedOut(many=True)
    as_found = ReadingSetOut(allow_null=True)
    plan = PlanOut(source="round.plan", allow_null=True)
    plan_is_stale = serializers.BooleanField()
    effects = EffectOut(many=True, source="effect_rows")
    figures = FigureOut(many=True, source="engine_figures")
    cautions = CautionOut(many=True, source="effects.warnings", default=[])
    correction = LengthOut(
        source="round.correction_mm", help_text="Added to the planned depth on the dial."
    )
    flange_before = LengthOut(source="flange_before_mm", allow_null=True)
    set_up = SetUpOut(source="round")
    dial_readings = ReadingSetOut(many=True, source="dial_sets")
    indicated = IndicatedOut(source="round.indicated", allow_null=True)
    touch_off = LengthOut(source="touch_off_mm", allow_null=True)
    paper = LengthOut(source="round.paper_mm")
    dial_targets = LengthOut(many=True, source="dial_targets_mm")
    passes = PassOut(many=True)
    depth = DepthOut()
    achieved = ReadingSetOut(allow_null=True)
    result = ResultOut(allow_null=True)
    older_results = ResultOut(many=True)
    clocking_test = ClockingTestOut(
        source="round.clocking_test",
        allow_null=True,
        help_text="With an earlier round of this cylinder, of which this is the second run.",
    )
    taken_again = ReadingSetOut(many=True)


class JobCylinderOut(Out):
    id = serializers.IntegerField(source="pk")
    serial = serializers.CharField()
    customer_reference = serializers.CharField()
    family = NamedOut()


class LimitsOut(Out):
    """Copied in when the job opened; it is judged by these to the end."""

    target = LengthOut(source="target_mm")
    tol_minus = LengthOut(source="tol_minus_mm")
    tol_plus = LengthOut(source="tol_plus_mm")
    floor = LengthOut(source="floor_mm")
    evenness_limit = LengthOut(source="evenness_limit_mm")


class ClosedOut(Part):
    needs = "closed_at"
    at = serializers.DateTimeField(source="closed_at")
    by = serializers.CharField(source="closed_by.username")
    why = serializers.CharField(source="closing_reason")


class JobOut(Out):
    """Every reading as entered and in mm, and everything that was worked out from them."""

    number = serializers.IntegerField(source="job.pk")
    version = serializers.IntegerField(source="job.version")
    state = serializers.ChoiceField(source="job.state", choices=State.choices)
    cylinder = JobCylinderOut(source="job.cylinder")
    limits = LimitsOut(source="job")
    note = serializers.CharField(source="job.note")
    opened_at = serializers.DateTimeField(source="job.opened_at")
    opened_by = serializers.CharField(source="job.opened_by.username")
    closed = ClosedOut(source="job")
    removed = LengthOut(source="removed_mm", help_text="Off this base in all, other jobs included.")
    rounds = RoundOut(many=True)


class JournalEntryOut(Out):
    id = serializers.IntegerField()
    at = serializers.DateTimeField()
    by = serializers.CharField(
        source="person.username", allow_null=True, help_text="Null: worked out by the service."
    )
    token = serializers.CharField(source="token.name", allow_null=True)
    action = serializers.CharField()
    subject = serializers.CharField()
    before = serializers.JSONField()
    after = serializers.JSONField()
    why = serializers.CharField()
    digest = serializers.CharField()
