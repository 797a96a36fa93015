"""Setting standards, and gauges checked against them."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from qc.actor import Actor
from qc.errors import BadInput, DoubtfulUnit, NegativeLength, ReasonNeeded
from qc.models import Gauge, GaugeCheck, Role, Standard
from qc.numerics.doubt import odd_one_out
from qc.operations import journal
from qc.operations.resources import in_use, register_resource
from qc.operations.voiding import void
from qc.units import Length


@transaction.atomic
def register_standard(
    *,
    name: str,
    size: Length,
    by: Actor,
    at: datetime,
    u_mm: Decimal = Decimal(0),
    note: str = "",
) -> Standard:
    """size: as its certificate states it. u_mm: standard uncertainty of that, mm."""
    if size.mm <= 0:
        raise BadInput(why="A standard's size is above zero.", fields=("size",))
    if u_mm < 0:
        raise BadInput(why="An uncertainty is not negative.", fields=("u_mm",))
    standard = Standard(
        name=name,
        note=note,
        value_mm=size.mm,
        value_value=f"{size.value:f}",
        value_unit=size.unit.value,
        u_mm=u_mm,
    )
    return register_resource(standard, by=by, at=at)


@transaction.atomic
def record_check(
    *,
    gauge: Gauge,
    standard: Standard,
    length: Length,
    by: Actor,
    at: datetime,
    confirm: bool = False,
    note: str = "",
) -> GaugeCheck:
    """Record what a gauge read on a standard. An overdue gauge may be checked: that is the point.

    confirm: the unit is right although it looks doubtful.
    """
    by.must_be(Role.OPERATOR, to="record a check")
    in_use(gauge)
    in_use(standard)
    if length.mm <= 0:
        raise NegativeLength(what="A reading", got_mm=length, fields=("length",))
    size = float(standard.value_mm)
    if not confirm and odd_one_out([float(length.mm)], expected_mm=size) is not None:
        raise DoubtfulUnit(got=length, expected_mm=size, fields=("length",))
    check = GaugeCheck.objects.create(
        gauge=gauge,
        standard=standard,
        value_mm=length.mm,
        entered_value=f"{length.value:f}",
        entered_unit=length.unit.value,
        unit_confirmed=confirm,
        at=at,
        by=by.person,
        token=by.token,
        note=note.strip(),
    )
    journal.note(
        by,
        "gauge.checked",
        subject=gauge,
        at=at,
        after={"standard": standard.name, "value": str(length), "off_mm": check.off_mm},
        why=note,
    )
    return check


@transaction.atomic
def void_check(*, check: GaugeCheck, why: str, by: Actor, at: datetime) -> GaugeCheck:
    """Void a check, keeping it."""
    by.must_be(Role.OPERATOR, to="void a check")
    if not why.strip():
        raise ReasonNeeded(what="Voiding a check")
    void(check, why=why, by=by, at=at)
    journal.note(
        by,
        "gauge.check_voided",
        subject=check.gauge,
        at=at,
        before={"value": f"{check.entered_value} {check.entered_unit}"},
        after={"standard": check.standard.name, "void": True},
        why=why,
    )
    check.refresh_from_db()
    return check
