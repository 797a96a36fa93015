"""Taking, or leaving, the dial correction that the shop's history suggests for this edge."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from qc.actor import Actor
from qc.errors import BadInput, StepMissing
from qc.lookups.charts.correction import correction_for
from qc.models import Job, Role, Round, State
from qc.numerics.correction import corrected_depth
from qc.numerics.cutting import pass_plan
from qc.operations import journal
from qc.operations.outcome import chip_mm
from qc.operations.policy import ensure_policy
from qc.operations.steps import take_turn
from qc.units import MM_PLACES


@transaction.atomic
def choose_correction(
    *, job: Job, take: bool, by: Actor, at: datetime, expected_version: int | None = None
) -> Round:
    """Take the suggested correction into the dial targets, or leave it out.

    The plan keeps the planned depth, the suggestion and what was chosen. The corrected depth never
    goes past what floor and material allow.
    """
    by.must_be(Role.OPERATOR, to="record a job")
    round_ = take_turn(job, needed=[State.SET_UP], expected_version=expected_version)
    if round_.edge is None or round_.plan is None:
        raise StepMissing(missing="A plan and a set-up", fields=("correction",))
    policy = ensure_policy(at=at)
    suggested = correction_for(round_.edge, policy=policy)
    if take and suggested.correction_mm == 0:
        raise BadInput(why="No correction is suggested for this edge now.", fields=("correction",))
    planned = float(round_.plan["depth_mm"])
    wanted = suggested.correction_mm if take else 0.0
    depth = corrected_depth(planned, correction_mm=wanted, deepest_mm=_deepest(round_, planned))
    passes = pass_plan(
        depth.depth_mm,
        rough_max_mm=float(policy.rough_max_mm),
        finish_mm=float(policy.finish_mm),
        smallest_chip_mm=chip_mm(round_, policy=policy),
    )
    before = round_.correction_mm
    round_.correction_mm = Decimal(depth.depth_mm - planned).quantize(MM_PLACES)
    round_.plan = {
        **round_.plan,
        "suggested_correction": asdict(suggested),
        "correction_was_held": depth.is_held,
        "corrected_passes_mm": list(passes.passes_mm) if take else None,
        "corrected_passes_reason": passes.reason if take else "",
        "corrected_passes_said": asdict(passes.said) if take and passes.said is not None else None,
    }
    round_.save(update_fields=["correction_mm", "plan"])
    journal.note(
        by,
        "round.correction_taken" if take else "round.correction_left",
        subject=round_,
        job=job,
        at=at,
        before={"correction_mm": before},
        after={
            "correction_mm": round_.correction_mm,
            "suggested_mm": suggested.correction_mm,
            "planned_depth_mm": planned,
        },
    )
    return round_


def _deepest(round_: Round, planned: float) -> float:
    assert round_.plan is not None
    caps = (round_.plan["floor_depth_mm"], round_.plan["material_depth_mm"])
    return max(planned, min(float(one) for one in caps if one is not None))
