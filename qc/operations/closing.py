"""The end of a job: cut again, release, concede or scrap; people decide, the verdict advises. Or
dropped before the first cut, when it was opened by mistake."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from qc.actor import Actor
from qc.errors import ReasonNeeded
from qc.models import CLOSED, Job, JobResult, Role, Round, State, VerdictKind
from qc.operations import journal
from qc.operations.limits import turn_before_the_cut
from qc.operations.steps import OPEN_STATES, furthest, take_turn


@transaction.atomic
def release(*, job: Job, by: Actor, at: datetime, expected_version: int | None = None) -> Job:
    """Release an accepted job. Any other verdict needs a concession, with its reason."""
    by.must_be(Role.LEAD, to="release a job")
    round_ = take_turn(job, needed=[State.MEASURED], expected_version=expected_version)
    verdict = current_result(round_).verdict
    if verdict != VerdictKind.ACCEPT:
        raise ReasonNeeded(
            what=f"Releasing a job whose verdict is {VerdictKind(verdict).label}: a concession"
        )
    return _close(job, State.RELEASED, reason="", by=by, at=at)


@transaction.atomic
def concede(
    *, job: Job, why: str, by: Actor, at: datetime, expected_version: int | None = None
) -> Job:
    """Let a job go as it is, whatever the verdict, with the reason on the record."""
    by.must_be(Role.LEAD, to="grant a concession")
    if not why.strip():
        raise ReasonNeeded(what="A concession")
    take_turn(job, needed=[State.MEASURED], expected_version=expected_version)
    return _close(job, State.CONCEDED, reason=why.strip(), by=by, at=at)


@transaction.atomic
def scrap(
    *, job: Job, why: str, by: Actor, at: datetime, expected_version: int | None = None
) -> Job:
    """Give the cylinder up, at any point before the job is closed."""
    by.must_be(Role.LEAD, to="scrap a job")
    if not why.strip():
        raise ReasonNeeded(what="Scrapping")
    take_turn(job, needed=OPEN_STATES, expected_version=expected_version)
    return _close(job, State.SCRAPPED, reason=why.strip(), by=by, at=at)


@transaction.atomic
def drop(
    *, job: Job, why: str, by: Actor, at: datetime, expected_version: int | None = None
) -> Job:
    """Drop a job opened by mistake, before its first cut; all that is recorded stays on record."""
    by.must_be(Role.OPERATOR, to="drop a job")
    if not why.strip():
        raise ReasonNeeded(what="Dropping a job")
    turn_before_the_cut(
        job,
        expected_version=expected_version,
        what="it is finished or scrapped, a lead's to decide, and not dropped",
    )
    return _close(job, State.DROPPED, reason=why.strip(), by=by, at=at)


def _close(job: Job, state: State, *, reason: str, by: Actor, at: datetime) -> Job:
    before = job.state
    Job.objects.filter(pk=job.pk).exclude(state__in=CLOSED).update(
        state=state, closed_at=at, closed_by=by.person, closing_reason=reason
    )
    journal.note(
        by,
        f"job.{state}",
        subject=job,
        job=job,
        at=at,
        before={"state": before},
        after={"state": state},
        why=reason,
    )
    job.refresh_from_db()
    return job


@transaction.atomic
def cut_again(
    *, job: Job, by: Actor, at: datetime, why: str = "", expected_version: int | None = None
) -> Round:
    """Open the next round. Its as-found set is the achieved set of this one, the same rows.

    Needs a reason unless the verdict asks for another cut, or says that one would help.
    """
    by.must_be(Role.OPERATOR, to="record a job")
    round_ = take_turn(job, needed=[State.MEASURED], expected_version=expected_version)
    if not current_result(round_).asks_for_a_cut and not why.strip():
        raise ReasonNeeded(what="Cutting again against the verdict")
    again = Round.objects.create(
        job=job, number=round_.number + 1, opened_at=at, as_found_set=round_.achieved_set
    )
    Job.objects.filter(pk=job.pk).update(state=furthest(again))
    journal.note(
        by, "job.cut_again", subject=again, job=job, at=at, after={"round": again.number}, why=why
    )
    job.refresh_from_db()
    return again


def current_result(round_: Round) -> JobResult:
    return round_.results.get(is_current=True)
