"""Gap and flange readings: recorded, added to, and voided with the old value kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from django.db import transaction

from qc.actor import Actor
from qc.errors import BadInput, TooFewReadings
from qc.models import (
    BEFORE_CUT,
    GAP_KINDS,
    INDICATED,
    Gauge,
    Job,
    Kind,
    Person,
    Reading,
    ReadingSet,
    Role,
    Round,
)
from qc.operations import journal
from qc.operations import reading_checks as checks
from qc.operations.answers import renew_indicated
from qc.operations.outcome import judge_round
from qc.operations.policy import ensure_policy
from qc.operations.reading_rows import (
    ReadingIn,
    as_read,
    facts_of,
    save_readings,
    standing_readings,
)
from qc.operations.steps import OPEN_STATES, move_on, take_turn
from qc.operations.voiding import void_of_job
from qc.units import Length


@transaction.atomic
def record_gap_readings(
    *,
    job: Job,
    kind: Kind,
    readings: Sequence[ReadingIn],
    gauge: Gauge,
    base_gasket: Length,
    by: Actor,
    at: datetime,
    expected_version: int | None = None,
    solder: Length | None = None,
    bolts_torqued: bool | None = None,
    measuring_radius: Length | None = None,
    measured_by: Person | None = None,
    why_fewer: str = "",
    why_no_cut: str = "",
    why_again: str = "",
    parts_changed: bool = False,
    confirm: bool = False,
    note: str = "",
) -> ReadingSet:
    """Record the as-found or the achieved set of the newest round.

    base_gasket: compressed thickness in place while measuring; zero for a bare base.
    why_fewer: why there are fewer than four positions. why_no_cut: why an achieved set comes
    without a cut on record. why_again: why a set is taken again in the same round.
    parts_changed: piston, rod, head, head gasket or crankcase changed since as-found.
    confirm: the units are right although they look doubtful.
    """
    by.must_be(Role.OPERATOR, to="record readings")
    kind = Kind(kind)
    needed = BEFORE_CUT if kind == Kind.AS_FOUND else OPEN_STATES
    round_ = take_turn(job, needed=needed, expected_version=expected_version)
    checks.taken_again(round_, kind, why_again)
    if kind == Kind.ACHIEVED:
        checks.cut_or_reason(job, round_, why_no_cut, by=by, at=at)
        if parts_changed:
            Round.objects.filter(pk=round_.pk).update(parts_changed=True)
            round_.parts_changed = True
    policy = ensure_policy(at=at)
    overdue = checks.calibrated_or_marked(gauge, at=at, policy=policy)
    checks.enough_positions(readings, why_fewer)
    set_ = ReadingSet(
        job=job,
        round=round_,
        kind=kind,
        at=at,
        by=measured_by or by.person,
        token=by.token,
        gauge=gauge,
        gauge_overdue=overdue,
        solder_mm=None if solder is None else solder.mm,
        base_gasket_mm=checks.not_negative(base_gasket, "The base gasket", "base_gasket"),
        bolts_torqued=bolts_torqued,
        measuring_radius_mm=(
            job.cylinder.family.measuring_radius_mm
            if measuring_radius is None
            else measuring_radius.mm
        ),
        why_fewer=why_fewer.strip(),
        note=note.strip(),
    )
    if set_.measuring_radius_mm is not None and set_.measuring_radius_mm <= 0:
        raise BadInput(why="The measuring radius is above zero.", fields=("measuring_radius",))
    checks.positive(readings)
    if not confirm:
        checks.units_look_right(
            readings, checks.expected_for(round_, set_), checks.predicted_for(round_, set_)
        )
    checks.crushed(readings, set_)
    set_.save()
    save_readings(set_, readings, by=by, at=at, confirmed=confirm)
    pointer = "as_found_set" if kind == Kind.AS_FOUND else "achieved_set"
    changes = {pointer: set_}
    if kind == Kind.AS_FOUND:
        round_.parts_changed = False
        Round.objects.filter(pk=round_.pk).update(parts_changed=False)
    Round.objects.filter(pk=round_.pk).update(**changes)
    setattr(round_, pointer, set_)
    journal.note(
        by,
        f"readings.{kind}",
        subject=set_,
        job=job,
        at=at,
        after=facts_of(set_, readings),
        why=why_again or why_fewer,
    )
    if kind == Kind.ACHIEVED:
        judge_round(round_, at=at)
    move_on(job, round_)
    return set_


@transaction.atomic
def add_readings(
    *,
    reading_set: ReadingSet,
    readings: Sequence[ReadingIn],
    by: Actor,
    at: datetime,
    expected_version: int | None = None,
    confirm: bool = False,
) -> ReadingSet:
    """Add a crush, a piece or a position to a set, with the gauge the set was read with."""
    by.must_be(Role.OPERATOR, to="record readings")
    job = reading_set.job
    if reading_set.kind not in GAP_KINDS:
        raise BadInput(why="Dial readings are not added to: void the wrong one and replace it.")
    take_turn(job, needed=OPEN_STATES, expected_version=expected_version)
    if not readings:
        raise TooFewReadings(needed=1, got=0)
    if reading_set.gauge is not None:
        policy = ensure_policy(at=at)
        if checks.calibrated_or_marked(reading_set.gauge, at=at, policy=policy):
            ReadingSet.objects.filter(pk=reading_set.pk).update(gauge_overdue=True)
    checks.positive(readings)
    if not confirm:
        standing = [as_read(one) for one in standing_readings(reading_set)]
        checks.units_look_right(
            [*readings, *standing], checks.expected_for(reading_set.round, reading_set), None
        )
    checks.crushed(readings, reading_set)
    save_readings(reading_set, readings, by=by, at=at, confirmed=confirm)
    journal.note(
        by,
        "readings.added",
        subject=reading_set,
        job=job,
        at=at,
        after=facts_of(reading_set, readings),
    )
    rejudge(reading_set, at=at)
    return reading_set


@transaction.atomic
def void_reading(
    *,
    reading: Reading,
    why: str,
    by: Actor,
    at: datetime,
    replacement: Length | None = None,
    expected_version: int | None = None,
    confirm: bool = False,
) -> Reading:
    """Void a reading, keeping it, and put the right value in its place where one is given.

    Whoever records may void before the job is closed; after that a lead may. The verdict gets a
    new revision; the old one stays on the record.
    """
    job = reading.set.job
    void_of_job(
        reading, job, what="a reading", why=why, by=by, at=at, expected_version=expected_version
    )
    after: dict[str, object] = {"void": True}
    if replacement is not None:
        right = replace(as_read(reading), length=replacement, field="replacement")
        if reading.kind in GAP_KINDS:
            checks.positive([right])
            if not confirm:
                others = [as_read(one) for one in standing_readings(reading.set)]
                expected = checks.expected_for(reading.set.round, reading.set)
                checks.units_look_right([right, *others], expected, None)
            checks.crushed([right], reading.set)
        elif reading.kind in INDICATED and not confirm:
            others = [as_read(one) for one in standing_readings(reading.set)]
            step = checks.dial_step_mm(reading.set.gauge, at=at)
            checks.dials_agree([right, *others], step_mm=step, asked=[right.field])
        [new] = save_readings(reading.set, [right], by=by, at=at, confirmed=confirm)
        Reading.objects.filter(pk=reading.pk).update(replaced_by=new)
        after["replacement"] = str(replacement)
        checks.still_a_depth(reading.set.round)
    if not standing_readings(reading.set):
        raise TooFewReadings(needed=1, got=0)
    journal.note(
        by,
        "reading.voided",
        subject=reading,
        job=job,
        at=at,
        before={
            "value": f"{reading.entered_value} {reading.entered_unit}",
            "position_deg": reading.position_deg,
        },
        after=after,
        why=why,
    )
    rejudge(reading.set, at=at)
    reading.refresh_from_db()
    return reading


def rejudge(reading_set: ReadingSet, *, at: datetime) -> None:
    """New revisions for every round that rests on this set: its gaps, touch-off or indicating."""
    if reading_set.kind in INDICATED:
        renew_indicated(reading_set.round, at=at)
    touched = reading_set.round_id if reading_set.kind == Kind.TOUCH_OFF else None
    for round_ in reading_set.job.rounds.all():
        gaps = (round_.as_found_set_id, round_.achieved_set_id)
        uses = reading_set.pk in gaps or round_.pk == touched
        if uses and round_.achieved_set_id is not None:
            judge_round(round_, at=at)
