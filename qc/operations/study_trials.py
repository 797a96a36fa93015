"""The readings of a gauge study: turn by turn in the order drawn, left out, or voided."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.db.models import F

from qc.actor import Actor
from qc.errors import (
    AlreadyThere,
    DoubtfulUnit,
    LengthTooLarge,
    NegativeLength,
    NotItsTurn,
    ReasonNeeded,
    StudyClosed,
)
from qc.lookups.gauges.gauge_studies import open_turns
from qc.models import GaugeStudy, Role, StudyReading, StudyTurn
from qc.numerics.checks import LARGEST_GAP_MM
from qc.numerics.doubt import odd_one_out
from qc.operations import journal
from qc.operations.resources import in_use
from qc.operations.study_result import result_of
from qc.operations.voiding import void
from qc.units import Length


@transaction.atomic
def record_trial(
    *, turn: StudyTurn, length: Length, by: Actor, at: datetime, confirm: bool = False
) -> StudyReading:
    """Record what was read at a turn, which must be the next of its person.

    confirm: the unit is right although it looks doubtful.
    """
    by.must_be(Role.OPERATOR, to="record readings")
    claim(turn.study)
    in_use(turn.gauge)
    _its_turn(turn)
    value_mm = _reading_mm(length)
    if not confirm:
        _unit_looks_right(turn.study, length, value_mm)
    try:
        with transaction.atomic():
            reading = StudyReading.objects.create(
                turn=turn,
                value_mm=value_mm,
                entered_value=f"{length.value:f}",
                entered_unit=length.unit.value,
                gauge_step_mm=turn.gauge.step_mm,
                unit_confirmed=confirm,
                at=at,
                by=by.person,
                token=by.token,
            )
    except IntegrityError:
        raise AlreadyThere(what="A reading of turn", name=turn.order, fields=("turn",)) from None
    journal.note(
        by,
        "study.read",
        subject=turn.study,
        at=at,
        after={**_where(turn), "value": str(length)},
    )
    return reading


@transaction.atomic
def leave_out(*, turn: StudyTurn, why: str, by: Actor, at: datetime) -> StudyTurn:
    """Pass over a turn that cannot be read, such as a piece that was lost."""
    by.must_be(Role.OPERATOR, to="record readings")
    reason_given(why, "Leaving a turn out")
    claim(turn.study)
    _its_turn(turn)
    StudyTurn.objects.filter(pk=turn.pk).update(
        left_out_at=at, left_out_by=by.person, left_out_why=why.strip()
    )
    turn.refresh_from_db()
    journal.note(by, "study.left_out", subject=turn.study, at=at, after=_where(turn), why=why)
    return turn


@transaction.atomic
def void_trial(*, reading: StudyReading, why: str, by: Actor, at: datetime) -> StudyReading:
    """Void a reading, keeping it. In an open study its turn comes up again.

    In a closed one a lead may; the result is worked out anew and the journal keeps the old one.
    """
    study = reading.turn.study
    reason_given(why, "Voiding a reading")
    # Locks the study first: it may have been closed since the caller looked.
    GaugeStudy.objects.filter(pk=study.pk).update(version=F("version") + 1)
    study.refresh_from_db()
    by.must_be(Role.OPERATOR if study.is_open else Role.LEAD, to="void a reading of this study")
    void(reading, why=why, by=by, at=at)
    before: dict[str, object] = {"value": f"{reading.entered_value} {reading.entered_unit}"}
    after: dict[str, object] = {**_where(reading.turn), "void": True}
    if not study.is_open:
        before["result"] = study.result
        study.result = after["result"] = result_of(study)
        GaugeStudy.objects.filter(pk=study.pk).update(result=study.result)
    journal.note(by, "study.voided", subject=study, at=at, before=before, after=after, why=why)
    reading.refresh_from_db()
    return reading


def claim(study: GaugeStudy) -> None:
    """Lock the study's row for this write, or raise StudyClosed."""
    if not GaugeStudy.objects.filter(pk=study.pk, closed_at=None).update(version=F("version") + 1):
        raise StudyClosed(study=study)


def reason_given(why: str, what: str) -> None:
    if not why.strip():
        raise ReasonNeeded(what=what)


def _its_turn(turn: StudyTurn) -> None:
    following = open_turns(turn.study).filter(person=turn.person).first()
    if following is None:
        raise AlreadyThere(what="A reading of turn", name=turn.order, fields=("turn",))
    if following.pk != turn.pk:
        told = f"For {turn.person} it is turn {following.order}, piece {following.part}."
        raise NotItsTurn(got=turn.order, next=told)


def _reading_mm(length: Length) -> Decimal:
    if length.mm <= 0:
        raise NegativeLength(what="A reading", got_mm=length, fields=("length",))
    if length.mm > LARGEST_GAP_MM:
        raise LengthTooLarge(
            what="A reading", got_mm=length, limit_mm=LARGEST_GAP_MM, fields=("length",)
        )
    return length.mm


def _unit_looks_right(study: GaugeStudy, length: Length, value_mm: Decimal) -> None:
    """Held against what the pieces were said to be, so that no earlier reading is given away."""
    nominal = float(study.nominal_mm)
    if odd_one_out([float(value_mm)], expected_mm=nominal) is not None:
        raise DoubtfulUnit(got=length, expected_mm=nominal, fields=("length",))


def _where(turn: StudyTurn) -> dict[str, object]:
    return {
        "turn": turn.order,
        "piece": turn.part,
        "trial": turn.trial,
        "read_by": turn.person.name,
        "gauge": turn.gauge.name,
    }
