"""The shop's statistics: what it can promise, what changed and when, and charts for a wish."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from api.bodies import Body
from api.fields import row_number
from api.retry import once
from api.v1.statistics_out import (
    CapabilityIn,
    CapabilityOut,
    ChartDesignsOut,
    ChartsTakenOut,
    ChartWishIn,
    ShiftsOut,
    TakeDesignIn,
)
from api.view import ShopView
from qc import access
from qc.errors import BadInput
from qc.lookups.charts.capability import (
    CapabilityWish,
    ShopCapability,
    shop_capability,
)
from qc.lookups.charts.designs import (
    ChartWish,
    DesignRow,
    PatternRow,
    design_in_force,
    designs_for,
    patterns_for,
    usual_wish,
)
from qc.lookups.charts.shifts import (
    Shifts,
    spread_shifts,
    target_error_shifts,
)
from qc.lookups.pages.accuracy import points_of
from qc.lookups.shop.policy import shop_policy
from qc.models import Lathe
from qc.operations.designing import take_design


class OfLathe(Body):
    lathe = row_number(help_text="Every lathe together where it is left out.")


class Capability(ShopView):
    filters = CapabilityIn
    answer = CapabilityOut

    def get(self, request: Request) -> Response:
        """Capability of target errors against their tolerances, of the newest 600 jobs at the most;
        refused while the jobs are not steady unless asked all the same."""
        asked = self.asked(request)
        points = points_of(_lathe(asked), since=asked.pop("since", None))
        asked.pop("lathe", None)
        found = shop_capability(points, CapabilityWish(**asked))
        return Response(CapabilityOut(_capability(found)).data)


class ShiftsView(ShopView):
    filters = OfLathe
    answer = ShiftsOut

    def get(self, request: Request) -> Response:
        """Drift and shifts of target error and of spread, over the newest jobs."""
        points = points_of(_lathe(self.asked(request)))
        facts = {
            "target_error": _shifts(target_error_shifts(points)),
            "spread": _shifts(spread_shifts(points)),
        }
        return Response(ShiftsOut(facts).data)


class ChartDesignsSum(ShopView):
    body = ChartWishIn
    answer = ChartDesignsOut

    def post(self, request: Request) -> Response:
        """Charts with at most one false flag in so many months, and how soon each finds a shift.
        Nothing is saved."""
        wish = _wish(ChartWishIn.parse(request.data))
        policy = shop_policy()
        now = design_in_force(policy, wish)
        facts = {
            "wish": wish,
            "charts": [_design(row, wish) for row in designs_for(wish)],
            "in_force": now and _design(now, wish),
            "patterns": [_patterns(row, wish) for row in patterns_for(policy, wish)],
        }
        return Response(ChartDesignsOut(facts).data)


class TakeDesign(ShopView):
    body = TakeDesignIn
    answer = ChartsTakenOut

    @once
    def post(self, request: Request) -> Response:
        """Chart the shop's errors by one of the charts found for this wish, from now on."""
        facts = TakeDesignIn.parse(request.data)
        wanted, why = facts.pop("chart"), facts.pop("why")
        rows = designs_for(_wish(facts))
        row = next((one for one in rows if one.key == wanted), None)
        if row is None:
            known = ", ".join(one.key for one in rows)
            raise BadInput(why=f"No such chart. Known here: {known}.", fields=("chart",))
        policy = take_design(design=row.design, by=self.by, at=timezone.now(), why=why)
        return Response(ChartsTakenOut(policy).data)


def _lathe(asked: dict[str, Any]) -> Lathe | None:
    return access.lathe(asked["lathe"]) if "lathe" in asked else None


def _wish(facts: dict[str, Any]) -> ChartWish:
    usual = usual_wish(shop_policy(), now=timezone.now())
    sigma = facts.get("sigma", usual.sigma_mm)
    if sigma is None:
        raise BadInput(
            why="The shop has too few jobs to know its own scatter. Send sigma.",
            fields=("sigma",),
        )
    months = facts.get("months_between_false_flags", usual.months)
    return ChartWish(
        months=float(months),
        jobs_per_month=float(facts.get("jobs_per_month", usual.jobs_per_month)),
        shift_mm=float(facts["shift"]),
        sigma_mm=float(sigma),
        within_jobs=facts.get("within_jobs", 5),
    )


def _design(row: DesignRow, wish: ChartWish) -> dict[str, Any]:
    design = row.design
    return {
        "chart": row.key,
        "can_be_taken": row.can_be_taken,
        "individuals_width": design.individuals,
        "ewma_weight": design.weight,
        "ewma_width": design.ewma,
        "cusum_k": design.k,
        "cusum_h": design.h,
        "cusum_head_start": design.head_start,
        "pace": row.pace,
        **_outlook(row, wish),
    }


def _patterns(row: PatternRow, wish: ChartWish) -> dict[str, Any]:
    return {
        "rule_set": row.rule_set,
        "is_chosen": row.is_chosen,
        "pace": row.pace,
        **_outlook(row, wish),
    }


def _outlook(row: DesignRow | PatternRow, wish: ChartWish) -> dict[str, Any]:
    outlook = row.outlook
    return {
        name: {
            "mean": run.arl,
            "tenth": run.quantile(0.1),
            "half": run.quantile(0.5),
            "nine_tenths": run.quantile(0.9),
            "within": run.within(wish.within_jobs),
        }
        for name, run in (
            ("false_flags", outlook.false),
            ("found", outlook.later),
            ("found_at_start", outlook.at_start),
        )
    }


def _capability(told: ShopCapability) -> dict[str, Any]:
    found = told.found
    facts: dict[str, Any] = {
        "jobs": len(told.jobs),
        "jobs_wanted": told.jobs_wanted,
        "since": told.since,
        "scale": "tolerance" if told.is_scaled else "mm",
        "lower": told.lower,
        "upper": told.upper,
        "within": told.within,
        "refusal": told.refusal,
        "stands_out": told.stands_out and told.stands_out.job_id,
        "found": None,
    }
    if found is not None:
        indices = {
            "cp": (found.short.cp, found.cp_interval),
            "cpk": (found.short.cpk, found.cpk_interval),
            "pp": (found.overall.cp, found.pp_interval),
            "ppk": (found.overall.cpk, found.ppk_interval),
            "cpm": (found.overall.cpm, found.cpm_interval),
        }
        facts["found"] = {
            "mean": found.mean,
            "sd": found.sd,
            "sigma": found.sigma,
            "indices": {
                name: {"value": value, "interval": interval}
                for name, (value, interval) in indices.items()
            },
            "ppk_at_least": found.ppk_at_least,
            "tolerance_interval": found.tolerance,
            "out_of_tolerance": found.out,
            "normality": found.normality,
            "is_steady": told.is_steady,
            "unsteady_jobs": [told.jobs[one].job_id for one in found.unsteady_at],
        }
    return facts


def _shifts(found: Shifts) -> dict[str, Any]:
    trend = found.trend
    return {
        "jobs": len(found.jobs),
        "jobs_wanted": found.jobs_wanted,
        "trend": trend
        and {
            "slope_a_month": trend.slope,
            "low": trend.interval.low,
            "high": trend.interval.high,
            "p": trend.p,
            "is_seen": trend.is_seen,
        },
        "levels": found.levels,
        "shifts": found.shifts,
    }
