"""The passes of a round, by the dial each was taken to."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from qc.actor import Actor
from qc.errors import (
    BeforeTouchOff,
    DeeperThanPlanned,
    DeeperThanTheGap,
    StepMissing,
)
from qc.lookups.record.depth import touch_off_mm
from qc.lookups.record.gaps import summary_of
from qc.models import Job, Pass, Role, Round, State
from qc.numerics.cutting import depth_from_dial
from qc.operations import journal
from qc.operations.outcome import judge_round
from qc.operations.steps import move_on, take_turn
from qc.operations.voiding import void_of_job
from qc.units import Length

# A dial set a division too far is the hands; this much is another reading or another unit.
ASK_BEYOND_MM = 0.05


@transaction.atomic
def record_pass(
    *,
    job: Job,
    dial: Length,
    by: Actor,
    at: datetime,
    is_spring: bool = False,
    expected_version: int | None = None,
    confirm: bool = False,
) -> Pass:
    """One pass, by the dial reading it was taken to. Needs the touch-off it counts from.

    confirm: the dial is right although it lies well beyond the planned depth.
    """
    by.must_be(Role.OPERATOR, to="record a job")
    round_ = take_turn(job, needed=[State.SET_UP, State.CUT], expected_version=expected_version)
    depth = _past_touch_off(round_, dial, field="dial")
    if not confirm:
        _near_the_plan(round_, dial, depth)
    last = round_.passes.order_by("-number").first()
    number = 1 if last is None else last.number + 1
    taken = _add_pass(round_, dial, number=number, is_spring=is_spring, by=by, at=at)
    journal.note(
        by,
        "pass.taken",
        subject=taken,
        job=job,
        at=at,
        after={"dial": str(dial), "is_spring": is_spring, "number": taken.number},
    )
    move_on(job, round_)
    return taken


def _past_touch_off(round_: Round, dial: Length, *, field: str) -> float:
    """The depth this dial reading means, once it is one that can be."""
    touched = touch_off_mm(round_)
    if touched is None:
        raise StepMissing(missing="Touch-off", fields=(field,))
    depth = depth_from_dial(
        float(dial.mm),
        touch_off_mm=touched,
        angle_factor=float(round_.dial_factor or 1),
        paper_mm=float(round_.paper_mm),
    )
    if depth < 0:
        raise BeforeTouchOff(dial=dial, touched_mm=touched, fields=(field,))
    if round_.as_found_set is None:
        return depth
    gap = summary_of(round_.as_found_set).fit.height_mm
    if depth >= gap:
        raise DeeperThanTheGap(dial=dial, depth_mm=depth, gap_mm=gap, fields=(field,))
    return depth


def _near_the_plan(round_: Round, dial: Length, depth_mm: float) -> None:
    if round_.planned_depth_mm is None:
        return
    over = depth_mm - float(round_.planned_depth_mm + round_.correction_mm)
    if over > ASK_BEYOND_MM:
        raise DeeperThanPlanned(dial=dial, over_mm=over)


def _add_pass(
    round_: Round, dial: Length, *, number: int, is_spring: bool, by: Actor, at: datetime
) -> Pass:
    return Pass.objects.create(
        round=round_,
        number=number,
        dial_mm=dial.mm,
        entered_value=f"{dial.value:f}",
        entered_unit=dial.unit.value,
        is_spring=is_spring,
        at=at,
        by=by.person,
    )


@transaction.atomic
def void_pass(
    *,
    taken: Pass,
    why: str,
    by: Actor,
    at: datetime,
    replacement: Length | None = None,
    expected_version: int | None = None,
) -> Pass:
    """Void a pass that was typed wrong; the round's result follows.

    replacement: the dial as it should have been typed. It takes the void pass's number, so that
    the order of the passes, and with it the depth, stays what it was.
    """
    job = taken.round.job
    void_of_job(taken, job, what="a pass", why=why, by=by, at=at, expected_version=expected_version)
    round_ = Round.objects.get(pk=taken.round_id)
    after: dict[str, object] = {"void": True}
    if replacement is not None:
        _past_touch_off(round_, replacement, field="replacement")
        _add_pass(round_, replacement, number=taken.number, is_spring=taken.is_spring, by=by, at=at)
        after["replacement"] = str(replacement)
    journal.note(
        by,
        "pass.voided",
        subject=taken,
        job=job,
        at=at,
        before={"dial": f"{taken.entered_value} {taken.entered_unit}"},
        after=after,
        why=why,
    )
    if round_.achieved_set_id is not None:
        judge_round(round_, at=at)
    elif not job.is_closed:
        move_on(job, round_)
    taken.refresh_from_db()
    return taken
