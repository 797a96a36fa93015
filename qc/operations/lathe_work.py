"""At the lathe before the cut: indicating the fixture, and touch-off."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from qc.actor import Actor
from qc.errors import BadInput, NegativeLength, StepMissing
from qc.models import INDICATED, Gauge, Job, Kind, ReadingSet, Role, Round, State, Step
from qc.operations import journal
from qc.operations.answers import renew_indicated
from qc.operations.policy import ensure_policy
from qc.operations.reading_checks import calibrated_or_marked, dial_step_mm, dials_agree
from qc.operations.reading_rows import ReadingIn, facts_of, save_readings
from qc.operations.steps import take_turn
from qc.units import Length, mm


@transaction.atomic
def record_indicating(
    *,
    job: Job,
    kind: Kind,
    readings: Sequence[ReadingIn],
    by: Actor,
    at: datetime,
    gauge: Gauge | None = None,
    lever_angle_deg: Decimal | None = None,
    expected_version: int | None = None,
    confirm: bool = False,
) -> ReadingSet:
    """Dial readings round the fixture, snug or tightened: signed, any angles, one plane or two.

    lever_angle_deg: between a lever indicator's arm and the surface; its readings are kept as
    read, and corrected by the cosine where they are used. confirm: the readings are right although
    one stands off the circle through the others.
    """
    by.must_be(Role.OPERATOR, to="record readings")
    kind = Kind(kind)
    if kind not in INDICATED:
        raise BadInput(why="Indicating is recorded snug or tightened.", fields=("kind",))
    if len({one.position_deg % 360 for one in readings}) < 2:
        raise BadInput(
            why="Indicate at two or more positions; four or more show where the high spot is.",
            fields=("readings",),
        )
    round_ = take_turn(job, needed=[State.SET_UP], expected_version=expected_version)
    if lever_angle_deg is not None and not 0 <= lever_angle_deg < 90:
        raise BadInput(
            why="The lever's angle to the surface is from 0 to under 90 degrees.",
            fields=("lever_angle",),
        )
    if not confirm:
        dials_agree(readings, step_mm=dial_step_mm(gauge, at=at))
    set_ = _dial_set(round_, kind, gauge=gauge, by=by, at=at)
    if lever_angle_deg is not None:
        ReadingSet.objects.filter(pk=set_.pk).update(lever_angle_deg=lever_angle_deg)
    save_readings(set_, readings, by=by, at=at, confirmed=confirm)
    journal.note(
        by,
        f"readings.{kind}",
        subject=set_,
        job=job,
        at=at,
        after=facts_of(set_, readings),
    )
    renew_indicated(round_, at=at)
    return set_


@transaction.atomic
def record_touch_off(
    *,
    job: Job,
    dial: Length,
    by: Actor,
    at: datetime,
    paper: Length | None = None,
    expected_version: int | None = None,
) -> ReadingSet:
    """The dial where the edge just touches the base, or the paper laid on it.

    paper: its thickness; the edge has that much further to go before it cuts.
    """
    by.must_be(Role.OPERATOR, to="record readings")
    round_ = take_turn(job, needed=[State.SET_UP], expected_version=expected_version)
    policy = ensure_policy(at=at)
    if policy.indicating_is_required and not _indicated(round_):
        raise StepMissing(missing="Indicating after tightening", fields=("indicating",))
    paper_mm = mm(0).mm if paper is None else paper.mm
    if paper_mm < 0:
        raise NegativeLength(what="Paper thickness", got_mm=paper, fields=("paper",))
    set_ = _dial_set(round_, Kind.TOUCH_OFF, gauge=None, by=by, at=at)
    reading = ReadingIn(length=dial, field="dial")
    save_readings(set_, [reading], by=by, at=at)
    Round.objects.filter(pk=round_.pk).update(paper_mm=paper_mm)
    journal.note(
        by,
        "readings.touch_off",
        subject=set_,
        job=job,
        at=at,
        after={**facts_of(set_, [reading]), "paper_mm": paper_mm},
    )
    return set_


def _indicated(round_: Round) -> bool:
    return (
        round_.reading_sets.filter(kind=Kind.INDICATED_TIGHT).exists()
        or round_.skipped.filter(step=Step.INDICATING).exists()
    )


def _dial_set(
    round_: Round, kind: Kind, *, gauge: Gauge | None, by: Actor, at: datetime
) -> ReadingSet:
    overdue = False
    if gauge is not None:
        overdue = calibrated_or_marked(gauge, at=at, policy=ensure_policy(at=at))
    return ReadingSet.objects.create(
        job=round_.job,
        round=round_,
        kind=kind,
        at=at,
        by=by.person,
        token=by.token,
        gauge=gauge,
        gauge_overdue=overdue,
    )
