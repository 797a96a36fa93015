"""The lathe's sums on readings that are nowhere on record: indicating, clocking, cutting.

Nothing is saved. What a request leaves out is the shop's own choice in force.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from api.v1.lathe_sum_forms import (
    ClockingSumIn,
    ClockingSumOut,
    CuttingSumIn,
    CuttingSumOut,
    IndicatingSumIn,
    IndicatingSumOut,
    RunIn,
)
from api.v1.sums import summary
from api.view import ShopView
from qc.lookups.record.indicating import read_plane
from qc.lookups.shop.policy import shop_policy
from qc.models import Gauge
from qc.numerics.clocking import TiltEstimate, separate_tilts
from qc.numerics.cutting import finish_kinematic, smallest_chip_mm, spindle_rpm, surface_speed
from qc.operations.outcome import budget_of


class IndicatingSum(ShopView):
    body = IndicatingSumIn
    answer = IndicatingSumOut

    def post(self, request: Request) -> Response:
        """One turn of the dial to runout, offset, which way to tap, and how it stands."""
        facts = IndicatingSumIn.parse(request.data)
        policy = shop_policy()
        step = facts.get("dial_step", policy.dial_step_mm)
        plane = read_plane(
            1,
            [float(one.position_deg) for one in facts["readings"]],
            [float(one.length.mm) for one in facts["readings"]],
            step_mm=float(step),
            lever_deg=float(facts.get("lever_angle_deg", 0)),
            jaws=facts.get("jaws", 4),
            limit_mm=float(facts.get("limit", policy.indicating_limit_mm)),
        )
        return Response(IndicatingSumOut(plane).data)


class ClockingSum(ShopView):
    body = ClockingSumIn
    answer = ClockingSumOut

    def post(self, request: Request) -> Response:
        """Two runs of one cylinder at two clockings to the engine's tilt and the fixture's."""
        facts = ClockingSumIn.parse(request.data)
        first, second = facts["first"], facts["second"]
        run = separate_tilts(
            _tilt(first),
            _tilt(second),
            first_clocking_deg=float(first["clocking_deg"]),
            second_clocking_deg=float(second["clocking_deg"]),
        )
        return Response(ClockingSumOut(run).data)


def _tilt(facts: dict[str, Any]) -> TiltEstimate:
    found = summary(facts, gasket_mm=0.0)
    gauge = Gauge(step_mm=facts["gauge_step"], calibration_u_mm=0)
    budget = budget_of(found, gauge=gauge, policy=shop_policy())
    if found.fit.a_mm is None or found.fit.b_mm is None or budget.side_to_side is None:
        raise RunIn.no_tilt(found.fit.position_deg.size)
    return TiltEstimate.of([found.fit.a_mm, found.fit.b_mm], budget.side_to_side.u_mm / 2)


class CuttingSum(ShopView):
    body = CuttingSumIn
    answer = CuttingSumOut

    def post(self, request: Request) -> Response:
        """A diameter, a speed, a feed and an edge to spindle speed, finish and smallest chip."""
        facts, policy = CuttingSumIn.parse(request.data), shop_policy()
        diameter = float(facts["diameter"])
        wanted = float(facts.get("surface_speed_m_min", policy.surface_speed_m_min))
        rpm = spindle_rpm(wanted, diameter_mm=diameter)
        most = float(policy.spindle_most_rpm)
        feed = float(facts.get("feed", policy.finish_feed_mm))
        chip = smallest_chip_mm(float(facts["edge_radius_um"]), ratio=float(policy.chip_ratio))
        answer = {
            "spindle_rpm": min(rpm, most),
            "is_held": rpm > most,
            "surface_speed_m_min": surface_speed(min(rpm, most), diameter_mm=diameter),
            "feed_mm": feed,
            **asdict(finish_kinematic(feed, nose_radius_mm=float(facts["nose_radius"]))),
            "smallest_chip_mm": chip,
        }
        return Response(CuttingSumOut(answer).data)
