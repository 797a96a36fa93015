"""Opening a job: the limits it will be judged by are copied in and stay."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction

from qc.actor import Actor
from qc.errors import AlreadyThere, CylinderAtWork, Retired
from qc.models import CLOSED, Cylinder, Job, Role, Round
from qc.operations import journal
from qc.operations.engines import floor_of
from qc.operations.limits import Asked, sound_limits
from qc.operations.policy import ensure_policy
from qc.units import Length


@transaction.atomic
def open_job(
    *,
    cylinder: Cylinder,
    by: Actor,
    at: datetime,
    target: Length | None = None,
    tol_minus: Length | None = None,
    tol_plus: Length | None = None,
    note: str = "",
    form_key: str | None = None,
    confirm: bool = False,
    beside_open: bool = False,
) -> Job:
    """Open a job on a cylinder. Target and tolerance default to the family's.

    form_key: of the form that asks. A key that opened a job before raises AlreadyThere; which
    job it was, `opened_by_form` says.
    confirm: target and tolerance are meant although they are far from the family's.
    beside_open: another job is meant although the cylinder has one open.
    Raises CylinderAtWork; TargetUnderFloor: the floor is the shop's or the maker's, whichever is
    greater.
    """
    by.must_be(Role.OPERATOR, to="open a job")
    family = cylinder.family
    if family.retired_at is not None:
        raise Retired(what="Family", name=family.name, fields=("cylinder",))
    floor = floor_of(family)
    limits = {
        **sound_limits(
            Asked(target, tol_minus, tol_plus),
            usual=family,
            family=family,
            floor=floor,
            confirm=confirm,
        ),
        "floor_mm": floor,
        "evenness_limit_mm": ensure_policy(at=at).evenness_limit_mm,
    }
    if not beside_open:
        _none_open(cylinder, form_key=form_key)
    try:
        with transaction.atomic():
            job = Job.objects.create(
                cylinder=cylinder,
                opened_at=at,
                opened_by=by.person,
                note=note.strip(),
                form_key=form_key,
                **limits,
            )
    except IntegrityError:  # the same form, sent again while the first was on its way
        raise AlreadyThere(what="A job opened by", name="this form") from None
    Round.objects.create(job=job, number=1, opened_at=at)
    journal.note(
        by,
        "job.opened",
        subject=job,
        job=job,
        at=at,
        after={"cylinder": str(cylinder), **limits},
    )
    return job


def _none_open(cylinder: Cylinder, *, form_key: str | None) -> None:
    """Asks about another job on a cylinder at work; the form's own job is for AlreadyThere."""
    at_work = cylinder.jobs.exclude(state__in=CLOSED)
    if form_key is not None:
        at_work = at_work.exclude(form_key=form_key)
    first = at_work.order_by("-pk").first()
    if first is not None:
        raise CylinderAtWork(cylinder=cylinder, job=first.pk)


def opened_by_form(form_key: str | None, *, by: Actor) -> Job | None:
    """The job this person's form opened already, however often it was sent."""
    if form_key is None:
        return None
    return Job.objects.filter(form_key=form_key, opened_by=by.person).first()
