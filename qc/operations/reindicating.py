"""A fixture that was re-indicated at the lathe: reported by who did it, who may put that right or
take it back while it waits, and confirmed by a lead."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import IntegrityError, transaction

from qc.actor import Actor
from qc.errors import BadInput, NotYourReport
from qc.models import CauseFound, Fixture, Job, Reindication, Role, ServiceEvent, ServiceKind
from qc.operations import journal
from qc.operations.as_left import looks_right
from qc.operations.resources import in_use, record_service

CONFIRM = "confirm a re-indication"
ANSWERED = "Somebody answered that report already."


@transaction.atomic
def report(
    *,
    fixture: Fixture,
    as_left_mm: Decimal,
    by: Actor,
    at: datetime,
    as_found_mm: Decimal | None = None,
    note: str = "",
    job: Job | None = None,
    confirm: bool = False,
) -> Reindication:
    """Say that it was re-indicated, side to side as found and as left. Nothing starts afresh until
    a lead confirms it. job: a job on it, at which that was done. confirm: the lengths are right
    although they look doubtful."""
    by.must_be(Role.OPERATOR, to="report a re-indication")
    in_use(fixture)
    if job is not None and not job.rounds.filter(fixture=fixture).exists():
        why = f"Job {job.pk} is not made on {fixture.name}: leave the job out, or name one that is."
        raise BadInput(why=why, fields=("job",))
    told = {"as_found_mm": as_found_mm, "as_left_mm": as_left_mm}
    if not confirm:
        looks_right(fixture, found_mm=as_found_mm, left_mm=as_left_mm, at=at)
    try:
        with transaction.atomic():
            made = Reindication.objects.create(
                fixture=fixture, at=at, by=by.person, note=note.strip(), job=job, **told
            )
    except IntegrityError:
        why = "It was reported already, and waits for a lead to confirm it."
        raise BadInput(why=why) from None
    journal.note(
        by,
        "fixture.reindication_reported",
        subject=fixture,
        job=job,
        at=at,
        after=told,
        why=note,
    )
    return made


@transaction.atomic
def correct(
    *,
    reported: Reindication,
    as_left_mm: Decimal,
    by: Actor,
    at: datetime,
    as_found_mm: Decimal | None = None,
    note: str = "",
    confirm: bool = False,
) -> Reindication:
    """Whoever reported it puts it right while it waits; the journal keeps what it said before.
    confirm: as of `report`."""
    of_your_own(reported, by=by)
    told = {"as_found_mm": as_found_mm, "as_left_mm": as_left_mm, "note": note.strip()}
    if not confirm:
        looks_right(reported.fixture, found_mm=as_found_mm, left_mm=as_left_mm, at=at)
    waits = Reindication.objects.select_for_update().filter(pk=reported.pk, answered_at=None)
    before = waits.values(*told).first()
    if before is None:
        raise BadInput(why=ANSWERED)
    waits.update(**told)
    journal.note(
        by,
        "fixture.reindication_corrected",
        subject=reported.fixture,
        job=reported.job,
        at=at,
        before=before,
        after=told,
    )
    reported.refresh_from_db()
    return reported


@transaction.atomic
def take_back(*, reported: Reindication, by: Actor, at: datetime) -> None:
    """Whoever reported it says, while it waits, that it was not so; the journal keeps what it
    said."""
    of_your_own(reported, by=by)
    reported = _answer(reported, by=by, at=at)
    journal.note(
        by,
        "fixture.reindication_taken_back",
        subject=reported.fixture,
        job=reported.job,
        at=at,
        before={"as_found_mm": reported.as_found_mm, "as_left_mm": reported.as_left_mm},
    )


def of_your_own(reported: Reindication, *, by: Actor) -> None:
    """Raise NotYourReport for anybody but who reported it."""
    by.must_be(Role.OPERATOR, to="change a report of re-indicating")
    if reported.by_id != by.person.pk:
        raise NotYourReport(who=reported.by.name)


@transaction.atomic
def confirm(
    *,
    reported: Reindication,
    by: Actor,
    at: datetime,
    found: CauseFound = CauseFound.NOT_KNOWN,
    note: str | None = None,
    confirm: bool = False,
) -> ServiceEvent:
    """Make it a service by whom and of the time it was done, which ends the flags open then.

    found, note, confirm: as of any service; see record_service, whose refusals it has. The note is
    the report's where it is None.
    """
    by.must_be(Role.LEAD, to=CONFIRM)
    reported = _answer(reported, by=by, at=at)
    if ServiceEvent.objects.filter(fixture=reported.fixture, at__gte=reported.at).exists():
        raise BadInput(
            why="It was serviced since that report: set the report aside, the service tells it."
        )
    event = record_service(
        subject=reported.fixture,
        kind=ServiceKind.REINDICATED,
        as_found_mm=reported.as_found_mm,
        as_left_mm=reported.as_left_mm,
        note=reported.note if note is None else note.strip(),
        found=found,
        confirm=confirm,
        by=by,
        at=at,
        done_by=reported.by,
        done_at=reported.at,
    )
    Reindication.objects.filter(pk=reported.pk).update(service=event)
    return event


@transaction.atomic
def set_aside(*, reported: Reindication, by: Actor, at: datetime) -> None:
    """It was a mistake, or a service tells it better."""
    by.must_be(Role.LEAD, to=CONFIRM)
    reported = _answer(reported, by=by, at=at)
    journal.note(by, "fixture.reindication_set_aside", subject=reported.fixture, at=at)


def _answer(reported: Reindication, *, by: Actor, at: datetime) -> Reindication:
    answered = Reindication.objects.filter(pk=reported.pk, answered_at=None).update(
        answered_at=at, answered_by=by.person
    )
    if not answered:
        raise BadInput(why=ANSWERED)
    return Reindication.objects.select_related("fixture", "by").get(pk=reported.pk)
