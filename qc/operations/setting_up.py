"""What holds and what cuts the cylinder of a round."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from qc.actor import Actor
from qc.errors import BadInput, DoubtfulFixture
from qc.models import Fixture, Flag, Job, Lathe, Person, Role, Round, State, ToolEdge
from qc.operations import journal
from qc.operations.answers import renew_indicated
from qc.operations.resources import in_use
from qc.operations.steps import move_on, take_turn


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
    tells_apart: Flag | None = None,
    asked: str = "",
    expected_version: int | None = None,
    confirm: bool = False,
) -> Round:
    """Say what holds and what cuts the cylinder.

    tells_apart: the flag whose suspects this job is to tell apart; asked: what that takes.
    clocking_deg: the position on the engine's clock at which the fixture's index mark stands;
    None keeps the job off the fixture's tilt chart. dial_factor defaults to the lathe's.
    confirm: the fixture fits although it has never held an engine of this family.
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
    if not confirm and fixture.pk != round_.fixture_id:
        _has_held_its_like(fixture, job)
    before = _set_up_facts(round_)
    if round_.edge_id != edge.pk:
        _drop_correction(round_)
    round_.fixture, round_.lathe, round_.edge = fixture, lathe, edge
    round_.clocking_deg = None if clocking_deg is None else clocking_deg % 360
    round_.operator = operator or by.person
    round_.dial_factor = factor
    if tells_apart is not None:
        round_.tells_apart, round_.asked = tells_apart, asked
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
            "tells_apart",
            "asked",
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


def _has_held_its_like(fixture: Fixture, job: Job) -> None:
    """An arbor is made for a bore, and nothing on record says which: what it has held does. Nothing
    is asked about a fixture, or a family, that is new here."""
    family, others = job.cylinder.family, Round.objects.exclude(job=job)
    on_it = others.filter(fixture=fixture)
    if not on_it.exists() or on_it.filter(job__cylinder__family=family).exists():
        return
    if others.filter(job__cylinder__family=family, fixture__isnull=False).exists():
        raise DoubtfulFixture(fixture=fixture.name, family=family.name, bore_mm=family.bore_mm)


def _drop_correction(round_: Round) -> None:
    """A correction was learnt on one edge; another edge starts without."""
    round_.correction_mm = Decimal(0)
    if round_.plan is not None:
        round_.plan = {**round_.plan, "corrected_passes_mm": None}


def _set_up_facts(round_: Round) -> dict[str, object]:
    """The flag by its number: its name may hold a person's, and everybody reads a job's journal."""
    flag = round_.tells_apart
    return {
        "fixture": round_.fixture,
        "lathe": round_.lathe,
        "edge": round_.edge,
        "clocking_deg": round_.clocking_deg,
        "operator": round_.operator,
        "dial_factor": round_.dial_factor,
        "correction_mm": round_.correction_mm,
        **({} if flag is None else {"tells_apart": journal.name_of(flag)}),
    }
