"""The sums of the main job on readings that are nowhere on record. Nothing is saved.

What a request leaves out is the shop's own choice in force, so that the same readings come to the
same plan and the same verdict as in a job.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from api.v1.sum_forms import CheckSumIn, CheckSumOut, PlanSumIn, PlanSumOut
from api.view import ShopView
from qc.lookups.effect_rows import effect_rows
from qc.lookups.effects import effects_for
from qc.lookups.gaps import GapSummary
from qc.lookups.shop import shop_policy
from qc.models import Gauge, ShopPolicy
from qc.numerics.cutting import pass_plan
from qc.numerics.results import CutPlan, NextCut
from qc.numerics.solder import position_values
from qc.numerics.target import gap_errors, plan_cut, predicted_gap, room_on_flange
from qc.numerics.tilt import fit_gap
from qc.numerics.verdict import judge
from qc.operations.outcome import budget_of
from qc.operations.reading_rows import ReadingIn


class PlanSum(ShopView):
    body = PlanSumIn
    answer = PlanSumOut

    def post(self, request: Request) -> Response:
        """As-found readings and a target to a cut in passes, and what it would leave."""
        facts = PlanSumIn.parse(request.data)
        found = summary(facts, gasket_mm=float(facts["gasket_found"]))
        plan = _plan(found, facts)
        effects = _effects(found, plan, facts)
        answer = {
            "found": found,
            "plan": plan,
            "effects": [] if effects is None else effect_rows(effects),
            "cautions": [] if effects is None else effects["warnings"],
        }
        return Response(PlanSumOut(answer).data)


class CheckSum(ShopView):
    body = CheckSumIn
    answer = CheckSumOut

    def post(self, request: Request) -> Response:
        """Achieved readings to fit, uncertainty budget and verdict."""
        facts = CheckSumIn.parse(request.data)
        return Response(CheckSumOut(_check(facts, policy=shop_policy())).data)


def summary(facts: dict[str, Any], *, gasket_mm: float) -> GapSummary:
    readings: list[ReadingIn] = facts["readings"]
    values = position_values(
        [float(one.length.mm) for one in readings],
        position_deg=[float(one.position_deg) for one in readings],
        piece=[one.piece for one in readings],
        gauge_step_mm=float(facts["gauge_step"]),
        solder_mm=_or_none(facts.get("solder")),
    )
    fit = fit_gap(values.value_mm, position_deg=values.position_deg)
    return GapSummary(values=values, fit=fit, gasket_mm=gasket_mm)


def _cut(found: GapSummary, facts: dict[str, Any], *, gasket_next_mm: float) -> CutPlan:
    room = None
    if "flange" in facts:
        room = room_on_flange(float(facts["flange"]), flange_min_mm=float(facts["flange_min"]))
    return plan_cut(
        height_mm=found.fit.height_mm,
        tightest_mm=found.fit.tightest_mm,
        gasket_found_mm=found.gasket_mm,
        gasket_next_mm=gasket_next_mm,
        target_mm=float(facts["target"]),
        floor_mm=float(facts["floor"]),
        room_mm=room,
    )


def _plan(found: GapSummary, facts: dict[str, Any]) -> dict[str, Any]:
    policy, gasket_next = shop_policy(), float(facts["gasket_next"])
    cut = _cut(found, facts, gasket_next_mm=gasket_next)
    chip = float(policy.smallest_chip_mm)
    passes = pass_plan(
        cut.depth_mm,
        rough_max_mm=float(policy.rough_max_mm),
        finish_mm=float(policy.finish_mm),
        smallest_chip_mm=chip,
    )
    predicted = predicted_gap(
        found.values.value_mm,
        gasket_found_mm=found.gasket_mm,
        gasket_next_mm=gasket_next,
        depth_mm=cut.depth_mm,
    )
    return {
        **asdict(cut),
        "as_found_height_mm": found.fit.height_mm,
        "as_found_tightest_mm": found.fit.tightest_mm,
        "gasket_found_mm": found.gasket_mm,
        "gasket_next_mm": gasket_next,
        "smallest_chip_mm": chip,
        "passes_mm": passes.passes_mm,
        "passes_reason": passes.reason,
        "predicted": [
            {"position_deg": at, "value_mm": float(gap)}
            for at, gap in zip(found.values.position_deg, predicted, strict=True)
        ],
    }


def _effects(
    found: GapSummary, plan: dict[str, Any], facts: dict[str, Any]
) -> dict[str, Any] | None:
    if "family" not in facts:
        return None
    effects = effects_for(
        facts["family"],
        policy=shop_policy(),
        cut_mm=plan["depth_mm"],
        gasket_change_mm=plan["gasket_found_mm"] - plan["gasket_next_mm"],
        squish_mm=found.fit.height_mm,
        tightest_mm=found.fit.tightest_mm,
        flange_mm=_or_none(facts.get("flange")),
    )
    return asdict(effects)


def _check(facts: dict[str, Any], *, policy: ShopPolicy) -> dict[str, Any]:
    achieved = summary(facts, gasket_mm=0.0)
    # A gauge that is on no shelf: the budget asks for its step and its certificate.
    gauge = Gauge(step_mm=facts["gauge_step"], calibration_u_mm=facts.get("gauge_calibration_u", 0))
    budget = budget_of(achieved, gauge=gauge, policy=policy)
    cut = _cut(achieved, facts, gasket_next_mm=0.0)
    next_cut = NextCut(
        depth_mm=cut.depth_mm,
        smallest_chip_mm=float(policy.smallest_chip_mm),
        limited_by=cut.limited_by,
        room_mm=cut.material_depth_mm,
    )
    verdict = judge(
        fit=achieved.fit,
        budget=budget,
        target_mm=float(facts["target"]),
        tol_minus_mm=float(facts["tol_minus"]),
        tol_plus_mm=float(facts["tol_plus"]),
        floor_mm=float(facts["floor"]),
        evenness_limit_mm=float(facts.get("evenness_limit", policy.evenness_limit_mm)),
        next_cut=next_cut,
        guard_factor=float(policy.guard_factor),
    )
    errors = gap_errors(
        achieved.fit.height_mm,
        predicted_mm=_or_none(facts.get("predicted")),
        target_mm=float(facts["target"]),
    )
    return {
        "achieved": achieved,
        **asdict(errors),
        "budget": budget,
        "next_cut": next_cut,
        "verdict": verdict,
    }


def _or_none(mm: Any) -> float | None:
    return None if mm is None else float(mm)
