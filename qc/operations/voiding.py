"""Voiding what was typed wrong: who may, the reason, and that it is done once. The row stays."""

from __future__ import annotations

from datetime import datetime

from qc.actor import Actor
from qc.errors import NothingToVoid, ReasonNeeded
from qc.models import Job, Role, State
from qc.models.entered import Voidable
from qc.operations.steps import OPEN_STATES, take_turn


def void(row: Voidable, *, why: str, by: Actor, at: datetime) -> None:
    """Of two who void one row at once, one gets NothingToVoid."""
    voided = (
        type(row)
        ._default_manager.filter(pk=row.pk, voided_at=None)
        .update(voided_at=at, voided_by=by.person, void_reason=why.strip())
    )
    if not voided:
        raise NothingToVoid()


def void_of_job(
    row: Voidable,
    job: Job,
    *,
    what: str,
    why: str,
    by: Actor,
    at: datetime,
    expected_version: int | None,
) -> None:
    """Claim the job and void `what` of it. Whoever records may before the job is closed, a lead
    after that too."""
    by.must_be(Role.LEAD if job.is_closed else Role.OPERATOR, to=f"void {what} of this job")
    if not why.strip():
        raise ReasonNeeded(what=f"Voiding {what}")
    needed = list(State) if by.may(Role.LEAD) else OPEN_STATES
    take_turn(job, needed=needed, expected_version=expected_version)
    void(row, why=why, by=by, at=at)
