"""The sums of the main job on readings that are nowhere on record. Nothing is saved.

What a request leaves out is the shop's own choice in force, so that the same readings come to the
same plan and the same verdict as in a job.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from api.v1.sum_forms import (
    BuretteSumIn,
    BuretteSumOut,
    CheckSumIn,
    CheckSumOut,
    PlanSumIn,
    PlanSumOut,
)
from api.view import ShopView
from qc.lookups.record.effect_rows import effect_rows, engine_figures
from qc.lookups.record.effects import burette_of, effects_for
from qc.lookups.record.gaps import GapSummary
from qc.lookups.shop.policy import shop_policy
from qc.models import Gauge, ShopPolicy
from qc.numerics.engine_effects import burette_compression
from qc.numerics.results import NextCut
from qc.numerics.round_plan import round_plan
from qc.numerics.solder import position_values
from qc.numerics.target import gap_errors, plan_cut, room_on_flange
from qc.numerics.tilt import fit_gap
from qc.numerics.verdict import judge
from qc.operations.outcome import apart_in, budget_of
from qc.operations.reading_rows import ReadingIn


class PlanSum(ShopView):
    body = PlanSumIn
    answer = PlanSumOut

    def post(self, request: Request) -> Response:
        """As-found readings and a target to a cut in passes, and what it would leave."""
        facts = PlanSumIn.parse(request.data)
        found = summary(facts, gasket_mm=float(facts["gasket_found"]))
        plan = _plan(found, facts)
        effects = _effects(plan, facts)
        answer = {
            "found": found,
            "plan": plan,
            "effects": [] if effects is None else effect_rows(effects),
            "figures": [] if effects is None else engine_figures(effects),
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


class BuretteSum(ShopView):
    body = BuretteSumIn
    answer = BuretteSumOut

    def post(self, request: Request) -> Response:
        """A burette reading to the clearance volume and the compression it gives."""
        facts = BuretteSumIn.parse(request.data)
        filled, well = facts["filled_cc"], facts["plug_well_cc"]
        if "family" in facts:
            found = burette_of(facts["family"], filled_cc=filled, plug_well_cc=well)
        else:
            found = burette_compression(
                bore_mm=float(facts["bore"]),
                stroke_mm=float(facts["stroke"]),
                filled_cc=float(filled),
                plug_well_cc=float(well),
                exhaust_mm=_or_none(facts.get("exhaust")),
            )
        return Response(BuretteSumOut(found).data)


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


def _room_mm(facts: dict[str, Any]) -> float | None:
    if "flange" not in facts:
        return None
    return room_on_flange(float(facts["flange"]), flange_min_mm=float(facts["flange_min"]))


def _plan(found: GapSummary, facts: dict[str, Any]) -> dict[str, Any]:
    policy = shop_policy()
    return round_plan(
        found.values,
        found.fit,
        gasket_found_mm=found.gasket_mm,
        gasket_next_mm=float(facts["gasket_next"]),
        target_mm=float(facts["target"]),
        floor_mm=float(facts["floor"]),
        room_mm=_room_mm(facts),
        rough_max_mm=float(policy.rough_max_mm),
        finish_mm=float(policy.finish_mm),
        smallest_chip_mm=float(policy.smallest_chip_mm),
    )


def _effects(plan: dict[str, Any], facts: dict[str, Any]) -> dict[str, Any] | None:
    if "family" not in facts:
        return None
    effects = effects_for(
        facts["family"],
        policy=shop_policy(),
        plan=plan,
        floor_mm=float(facts["floor"]),
        flange_mm=_or_none(facts.get("flange")),
    )
    return asdict(effects)


def _check(facts: dict[str, Any], *, policy: ShopPolicy) -> dict[str, Any]:
    achieved = summary(facts, gasket_mm=0.0)
    # A gauge that is on no shelf: the budget asks for its step and its certificate.
    gauge = Gauge(step_mm=facts["gauge_step"], calibration_u_mm=facts.get("gauge_calibration_u", 0))
    budget = budget_of(achieved, gauge=gauge, policy=policy)
    cut = plan_cut(
        height_mm=achieved.fit.height_mm,
        tightest_mm=achieved.fit.tightest_mm,
        gasket_found_mm=achieved.gasket_mm,
        gasket_next_mm=achieved.gasket_mm,
        target_mm=float(facts["target"]),
        floor_mm=float(facts["floor"]),
        room_mm=_room_mm(facts),
    )
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
        "stands_apart": apart_in(achieved, gauge=gauge, policy=policy),
        "next_cut": next_cut,
        "verdict": verdict,
    }


def _or_none(mm: Any) -> float | None:
    return None if mm is None else float(mm)
