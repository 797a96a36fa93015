"""The order of a job's steps: which state each needs, which it leads to, and who was first."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from django.db import connection, transaction
from django.db.models import F

from qc.actor import Actor
from qc.errors import ChangedMeanwhile, ReasonNeeded, WrongState
from qc.models import CLOSED, Cylinder, Job, Role, Round, SkippedStep, State, Step
from qc.operations import journal

OPEN_STATES = tuple(state for state in State if state not in CLOSED)
SKIPPABLE_AT: dict[Step, State] = {
    Step.AS_FOUND: State.OPEN,
    Step.PLAN: State.FOUND,
    Step.SET_UP: State.PLANNED,
    Step.INDICATING: State.SET_UP,
    Step.PASSES: State.SET_UP,
}


def take_turn(job: Job, *, needed: Collection[State], expected_version: int | None) -> Round:
    """Claim the job for one write and return its newest round.

    The version rises in one conditional UPDATE, which also locks the row: of two people saving
    the same step one goes through and the other gets ChangedMeanwhile with nothing written.
    `expected_version` None skips that check, for callers that saw no earlier version.
    """
    hold_cylinder(job)
    free = Job.objects.filter(pk=job.pk, state__in=needed)
    if expected_version is not None:
        free = free.filter(version=expected_version)
    moved = free.update(version=F("version") + 1)
    job.refresh_from_db(fields=["version", "state"])
    if not moved:
        if expected_version is not None and job.version != expected_version:
            raise ChangedMeanwhile(what=job, seen=expected_version, now=job.version)
        wanted = " or ".join(State(state).label for state in needed)
        raise WrongState(job=job.pk, state=job.get_state_display(), needed=wanted)
    return newest_round(job)


def hold_cylinder(job: Job) -> None:
    """Others who write to any job of the same cylinder wait for the end of the transaction, since
    its rounds are held against each other. Before the job itself is claimed, so that nobody waits
    in a circle. SQLite lets in one writer at a time as it is."""
    if connection.features.has_select_for_update:
        own = Cylinder.objects.select_for_update(no_key=True).filter(pk=job.cylinder_id)
        list(own.values_list("pk"))


def newest_round(job: Job) -> Round:
    round_ = job.rounds.order_by("-number").first()
    assert round_ is not None  # open_job makes the first
    return round_


def move_on(job: Job, round_: Round) -> None:
    """Set the job's state to the furthest step this round has recorded or skipped."""
    state = furthest(round_)
    if state != job.state:
        Job.objects.filter(pk=job.pk).update(state=state)
        job.state = state


def furthest(round_: Round) -> State:
    skipped = set(round_.skipped.values_list("step", flat=True))
    if round_.achieved_set_id is not None:
        return State.MEASURED
    if Step.PASSES in skipped or round_.passes.filter(voided_at=None).exists():
        return State.CUT
    if Step.SET_UP in skipped or round_.fixture_id is not None:
        return State.SET_UP
    if Step.PLAN in skipped or round_.plan is not None:
        return State.PLANNED
    if Step.AS_FOUND in skipped or round_.as_found_set_id is not None:
        return State.FOUND
    return State.OPEN


@transaction.atomic
def skip_step(
    *, job: Job, step: Step, why: str, by: Actor, at: datetime, expected_version: int | None = None
) -> Job:
    """Leave a step out, with the reason on the record."""
    by.must_be(Role.OPERATOR, to="record a job")
    step = Step(step)
    round_ = take_turn(job, needed=[SKIPPABLE_AT[step]], expected_version=expected_version)
    note_skip(round_, step, why=why, by=by, at=at)
    move_on(job, round_)
    return job


def note_skip(round_: Round, step: Step, *, why: str, by: Actor, at: datetime) -> None:
    if not why.strip():
        raise ReasonNeeded(what=f"Skipping {step.label}")
    _, new = SkippedStep.objects.get_or_create(
        round=round_, step=step, defaults={"why": why.strip(), "at": at, "by": by.person}
    )
    if new:
        journal.note(
            by,
            "step.skipped",
            subject=round_,
            job=round_.job,
            at=at,
            after={"step": step},
            why=why,
        )
