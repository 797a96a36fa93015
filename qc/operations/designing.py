"""Taking a designed chart as the shop's own: a new row of its policy, like any other choice."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from qc.actor import Actor
from qc.errors import BadInput
from qc.models import ChartsBy, ShopPolicy
from qc.numerics.run_length import ChartDesign
from qc.operations.policy import change_policy, ensure_policy

RAREST = Decimal("0.01")


def take_design(*, design: ChartDesign, by: Actor, at: datetime, why: str) -> ShopPolicy:
    """Chart the shop's errors by this design from now on.

    Kept are what decides the signals, the EWMA's weight or the CUSUM's allowance and head start,
    and how many false flags a season, from which the limits follow. Old signals stay as they are.
    Raises NotAllowed for anyone but a lead; BadInput for a design that the charts do not draw, or
    one whose false flags are rarer than the policy can hold.
    """
    false_flags = _false_flags(ensure_policy(at=at), design.arl0)
    return change_policy(
        by=by, at=at, why=why, false_flags_per_season=false_flags, **_choices(design)
    )


def _false_flags(policy: ShopPolicy, arl0: float) -> Decimal:
    a_season = round(Decimal(policy.season_jobs) / Decimal(arl0), 2)
    if a_season < RAREST:
        raise BadInput(
            why=f"That is under {RAREST} false flags a season of {policy.season_jobs} jobs. "
            "Ask for one in fewer months: limits as wide as that would find nothing."
        )
    return a_season


def _choices(design: ChartDesign) -> dict[str, Any]:
    if design.chart == "individuals and ewma" and design.weight is not None:
        return {"charts_by": ChartsBy.AVERAGE, "ewma_weight": round(Decimal(design.weight), 2)}
    if design.chart == "cusum" and design.k is not None:
        return {
            "charts_by": ChartsBy.SUMS,
            "cusum_k": round(Decimal(design.k), 3),
            "cusum_has_head_start": bool(design.head_start),
        }
    raise BadInput(
        why="The shop's charts are single jobs with their running average, or cumulative sums."
    )
