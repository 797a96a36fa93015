"""What the sums take and how their answers are told."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from api.answers import Out
from api.bodies import Body
from api.fields import Ref, StrictNumber
from api.lengths import LengthOut, MmIn
from api.v1.jobs_out import CautionOut, EffectOut, FigureOut, PlanOut
from api.v1.reading_sets_out import GapSummaryOut
from api.v1.results_out import ApartOut, BudgetLineOut, NextCutOut, UncertaintyOut, VerdictOut
from api.v1.step_bodies import ReadingsIn
from qc import access
from qc.errors import BadInput


class GapReadingsIn(ReadingsIn):
    gauge_step = MmIn(help_text="The finest division the gauge shows.")
    solder = MmIn(required=False)
    target = MmIn()
    floor = MmIn()
    flange = MmIn(required=False, help_text="Flange height measured now.")
    flange_min = MmIn(required=False)

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        if ("flange" in facts) != ("flange_min" in facts):
            raise BadInput(
                why="Give the flange height and the least it may have, or neither.",
                fields=("flange", "flange_min"),
            )
        return facts


class PlanSumIn(GapReadingsIn):
    gasket_found = MmIn(help_text="Compressed, in place while measuring.")
    gasket_next = MmIn(help_text="Compressed, to be fitted.")
    family = Ref(access.family, required=False, help_text="To tell what the cut does to it.")


class CheckSumIn(GapReadingsIn):
    gauge_calibration_u = MmIn(required=False)
    tol_minus = MmIn()
    tol_plus = MmIn()
    evenness_limit = MmIn(required=False)
    predicted = MmIn(required=False, help_text="The height the cut should have left.")


class PlanSumOut(Out):
    found = GapSummaryOut()
    plan = PlanOut()
    effects = EffectOut(many=True, help_text="Empty without a family.")
    figures = FigureOut(many=True, help_text="Empty without a family.")
    cautions = CautionOut(many=True)


class CheckSumOut(Out):
    achieved = GapSummaryOut()
    target_error = LengthOut(source="target_error_mm")
    height_error = LengthOut(source="height_error_mm", allow_null=True)
    uncertainty = UncertaintyOut(source="budget")
    budget = BudgetLineOut(many=True, source="budget.lines")
    stands_apart = ApartOut(many=True)
    next_cut = NextCutOut()
    verdict = VerdictOut()


class BuretteSumIn(Body):
    """What ran in up to the plug's seat at top dead centre, and the engine: a family, or its
    bore and stroke."""

    filled_cc = StrictNumber(max_digits=9, decimal_places=3)
    plug_well_cc = StrictNumber(
        max_digits=9, decimal_places=3, help_text="What the plug's own thread fills."
    )
    family = Ref(access.family, required=False)
    bore = MmIn(required=False)
    stroke = MmIn(required=False)
    exhaust = MmIn(required=False, help_text="Piston travel at which the exhaust opens.")

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        own = {"bore", "stroke", "exhaust"} & set(facts)
        if ("family" in facts) == bool(own) or (own and not {"bore", "stroke"} <= own):
            raise BadInput(
                why="Give a family, or else the bore and the stroke.",
                fields=("family", "bore", "stroke"),
            )
        return facts


class BuretteSumOut(Out):
    """Ratios to one. The trapped one is null where the exhaust height is not known."""

    clearance_cc = serializers.FloatField()
    geometric_ratio = serializers.FloatField()
    trapped_ratio = serializers.FloatField(allow_null=True)
