"""At the lathe: what the cylinder is held and cut with, indicating, touch-off and passes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from qc.actor import Actor
from qc.errors import (
    BadInput,
    BeforeTouchOff,
    DeeperThanPlanned,
    DeeperThanTheGap,
    NegativeLength,
    NothingToVoid,
    ReasonNeeded,
    StepMissing,
)
from qc.lookups.depth import touch_off_mm
from qc.lookups.gaps import summary_of
from qc.models import (
    INDICATED,
    Fixture,
    Gauge,
    Job,
    Kind,
    Lathe,
    Pass,
    Person,
    ReadingSet,
    Role,
    Round,
    State,
    Step,
    ToolEdge,
)
from qc.numerics.cutting import depth_from_dial
from qc.operations import journal
from qc.operations.answers import renew_indicated
from qc.operations.outcome import judge_round
from qc.operations.policy import ensure_policy
from qc.operations.reading_checks import calibrated_or_marked
from qc.operations.reading_rows import ReadingIn, facts_of, save_readings
from qc.operations.resources import in_use
from qc.operations.steps import OPEN_STATES, move_on, take_turn
from qc.units import Length, mm

# A dial set a division too far is the hands; this much is another reading or another unit.
ASK_BEYOND_MM = 0.05


@transaction.atomic
def record_set_up(
    *,
    job: Job,
    fixture: Fixture,
    lathe: Lathe,
    edge: ToolEdge,
    by: Actor,
    at: datetime,
    clocking_deg: Decimal | None,
    operator: Person | None = None,
    dial_factor: Decimal | None = None,
    expected_version: int | None = None,
) -> Round:
    """Say what holds and what cuts the cylinder.

    clocking_deg: the position on the engine's clock at which the fixture's index mark stands;
    None keeps the job off the fixture's tilt chart. dial_factor defaults to the lathe's.
    """
    by.must_be(Role.OPERATOR, to="record a job")
    round_ = take_turn(job, needed=[State.PLANNED, State.SET_UP], expected_version=expected_version)
    for resource in (fixture, lathe, edge):
        in_use(resource)
    if edge.lathe_id != lathe.pk:
        raise BadInput(
            why=f"Edge {edge.name} sits in {edge.lathe.name}, not in {lathe.name}.",
            fields=("edge",),
        )
    factor = lathe.dial_factor if dial_factor is None else dial_factor
    if not 0 < factor <= 1:
        raise BadInput(why="The dial factor is above 0 and at most 1.", fields=("dial_factor",))
    before = _set_up_facts(round_)
    if round_.edge_id != edge.pk:
        _drop_correction(round_)
    round_.fixture, round_.lathe, round_.edge = fixture, lathe, edge
    round_.clocking_deg = None if clocking_deg is None else clocking_deg % 360
    round_.operator = operator or by.person
    round_.dial_factor = factor
    round_.save(
        update_fields=[
            "fixture",
            "lathe",
            "edge",
            "clocking_deg",
            "operator",
            "dial_factor",
            "correction_mm",
            "plan",
        ]
    )
    journal.note(
        by,
        "round.set_up",
        subject=round_,
        job=job,
        at=at,
        before=before,
        after=_set_up_facts(round_),
    )
    renew_indicated(round_, at=at)
    move_on(job, round_)
    return round_


def _drop_correction(round_: Round) -> None:
    """A correction was learnt on one edge; another edge starts without."""
    round_.correction_mm = Decimal(0)
    if round_.plan is not None:
        round_.plan = {**round_.plan, "corrected_passes_mm": None}


def _set_up_facts(round_: Round) -> dict[str, object]:
    return {
        "fixture": round_.fixture,
        "lathe": round_.lathe,
        "edge": round_.edge,
        "clocking_deg": round_.clocking_deg,
        "operator": round_.operator,
        "dial_factor": round_.dial_factor,
        "correction_mm": round_.correction_mm,
    }


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
) -> ReadingSet:
    """Dial readings round the fixture, snug or tightened: signed, any angles, one plane or two.

    lever_angle_deg: between a lever indicator's arm and the surface; its readings are kept as
    read, and corrected by the cosine where they are used.
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
    set_ = _dial_set(round_, kind, gauge=gauge, by=by, at=at)
    if lever_angle_deg is not None:
        ReadingSet.objects.filter(pk=set_.pk).update(lever_angle_deg=lever_angle_deg)
    save_readings(set_, readings, by=by, at=at)
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
    by.must_be(Role.LEAD if job.is_closed else Role.OPERATOR, to="void a pass of this job")
    if not why.strip():
        raise ReasonNeeded(what="Voiding a pass")
    needed = list(State) if by.may(Role.LEAD) else OPEN_STATES
    take_turn(job, needed=needed, expected_version=expected_version)
    voided = Pass.objects.filter(pk=taken.pk, voided_at=None).update(
        voided_at=at, voided_by=by.person, void_reason=why.strip()
    )
    if not voided:
        raise NothingToVoid()
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
