"""The plan of a round: how deep to cut, what wins, in how many passes, and what it will leave."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from qc.actor import Actor
from qc.errors import AsFoundNeededAgain, NegativeLength, ReasonNeeded, StepMissing
from qc.lookups.record.effects import effects_to_keep
from qc.lookups.record.gaps import summary_of
from qc.lookups.record.material import (
    flange_before_mm,
    removed_mm,
    room_mm,
)
from qc.models import BEFORE_CUT, Job, Role, Round, ShopPolicy, State
from qc.numerics.round_plan import round_plan
from qc.operations import journal
from qc.operations.answers import FORMULA
from qc.operations.outcome import chip_mm
from qc.operations.policy import ensure_policy
from qc.operations.steps import move_on, take_turn
from qc.units import MM_PLACES, Length


@transaction.atomic
def plan_round(
    *,
    job: Job,
    by: Actor,
    at: datetime,
    gasket_next: Length,
    flange: Length | None = None,
    expected_version: int | None = None,
) -> Round:
    """Work out the cut of the newest round and keep it with what it was worked out from.

    gasket_next: compressed base gasket that will be fitted, zero for a bare base. flange: height
    measured now; without it the family's nominal height less earlier cuts is used, if known.
    """
    by.must_be(Role.OPERATOR, to="plan a job")
    round_ = take_turn(
        job,
        needed=[State.FOUND, State.PLANNED, State.SET_UP],
        expected_version=expected_version,
    )
    if round_.parts_changed:
        raise AsFoundNeededAgain()
    if round_.as_found_set is None:
        raise StepMissing(missing="As-found", fields=("as_found",))
    for length, field in ((gasket_next, "gasket_next"), (flange, "flange")):
        if length is not None and length.mm < 0:
            raise NegativeLength(what=field.replace("_", " "), got_mm=length, fields=(field,))
    round_.gasket_next_mm = gasket_next.mm
    round_.flange_mm = None if flange is None else flange.mm
    plan = work_out(round_, policy=ensure_policy(at=at))
    round_.plan = plan
    round_.correction_mm = Decimal(0)
    round_.planned_depth_mm = Decimal(plan["depth_mm"]).quantize(MM_PLACES)
    round_.plan_basis = round_.as_found_set.fingerprint()
    round_.plan_formula = FORMULA
    round_.planned_at = at
    round_.save(
        update_fields=[
            "gasket_next_mm",
            "flange_mm",
            "plan",
            "planned_depth_mm",
            "correction_mm",
            "plan_basis",
            "plan_formula",
            "planned_at",
        ]
    )
    journal.note(by, "round.planned", subject=round_, job=job, at=at, after=plan)
    move_on(job, round_)
    return round_


def work_out(round_: Round, *, policy: ShopPolicy) -> dict[str, Any]:
    """The plan as it is stored: plain numbers in mm, nothing saved."""
    assert round_.as_found_set is not None
    assert round_.gasket_next_mm is not None
    found = summary_of(round_.as_found_set)
    gasket_next = float(round_.gasket_next_mm)
    room, flange = room_mm(round_), flange_before_mm(round_)
    plan = round_plan(
        found.values,
        found.fit,
        gasket_found_mm=found.gasket_mm,
        gasket_next_mm=gasket_next,
        target_mm=float(round_.job.target_mm),
        floor_mm=float(round_.job.floor_mm),
        room_mm=None if room is None else float(room),
        rough_max_mm=float(policy.rough_max_mm),
        finish_mm=float(policy.finish_mm),
        smallest_chip_mm=chip_mm(round_, policy=policy),
    )
    return {
        **plan,
        "removed_before_mm": float(removed_mm(round_.job.cylinder, before=round_)),
        "effects": effects_to_keep(
            round_.job.cylinder.family,
            policy=policy,
            plan=plan,
            floor_mm=float(round_.job.floor_mm),
            flange_mm=None if flange is None else float(flange),
        ),
    }


@transaction.atomic
def note_parts_changed(
    *, job: Job, why: str, by: Actor, at: datetime, expected_version: int | None = None
) -> Round:
    """Piston, rod, head, head gasket or crankcase changed: as-found must be taken again."""
    by.must_be(Role.OPERATOR, to="record a job")
    if not why.strip():
        raise ReasonNeeded(what="Saying which part changed")
    round_ = take_turn(job, needed=BEFORE_CUT, expected_version=expected_version)
    Round.objects.filter(pk=round_.pk).update(parts_changed=True)
    journal.note(
        by,
        "round.parts_changed",
        subject=round_,
        job=job,
        at=at,
        before={"parts_changed": round_.parts_changed},
        after={"parts_changed": True},
        why=why,
    )
    round_.refresh_from_db()
    return round_
