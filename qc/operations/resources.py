"""Fixtures, lathes, tool edges and gauges: registered, changed, serviced, retired."""

from __future__ import annotations

from copy import copy
from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypeVar

from django.db import IntegrityError, transaction
from django.db.models import F

from qc.actor import Actor
from qc.errors import (
    AlreadyThere,
    BadInput,
    ChangedMeanwhile,
    NegativeLength,
    ReasonNeeded,
    Retired,
    ServiceOfRetired,
)
from qc.models import (
    CauseFound,
    Fixture,
    Gauge,
    Lathe,
    Person,
    Resource,
    Role,
    ServiceEvent,
    ServiceKind,
    ToolEdge,
)
from qc.operations import journal
from qc.operations.as_left import left_true, looks_right
from qc.operations.flag_ends import withdraw_retired
from qc.operations.service_events import put_down
from qc.units import Length

R = TypeVar("R", bound=Resource)

SERVICE_KINDS: dict[type[Resource], tuple[ServiceKind, ...]] = {
    Fixture: (ServiceKind.REINDICATED, ServiceKind.DRESSED, ServiceKind.REPAIRED),
    Lathe: (ServiceKind.ADJUSTED, ServiceKind.REPAIRED),
    ToolEdge: (ServiceKind.EDGE_CHANGED, ServiceKind.DRESSED),
    Gauge: (ServiceKind.CALIBRATED, ServiceKind.REPAIRED),
}


@transaction.atomic
def register_fixture(
    *,
    name: str,
    by: Actor,
    at: datetime,
    note: str = "",
    planes_apart_mm: Decimal | None = None,
    to_face_mm: Decimal = Decimal(0),
    jaws: int = 4,
) -> Fixture:
    """Lengths along the axis, for indicating in two planes: see qc.models.Fixture."""
    fixture = Fixture(
        name=name,
        note=note,
        planes_apart_mm=planes_apart_mm,
        to_face_mm=to_face_mm,
        jaws=jaws,
    )
    return register_resource(fixture, by=by, at=at)


@transaction.atomic
def register_lathe(
    *, name: str, by: Actor, at: datetime, note: str = "", dial_factor: Decimal = Decimal(1)
) -> Lathe:
    """`dial_factor`: depth along the spindle per unit on the dial; 1 for the carriage dial."""
    return register_resource(Lathe(name=name, note=note, dial_factor=dial_factor), by=by, at=at)


@transaction.atomic
def fit_edge(
    *,
    lathe: Lathe,
    slot: str,
    name: str,
    edge_radius_um: Decimal,
    by: Actor,
    at: datetime,
    note: str = "",
    nose_radius_mm: Decimal = Decimal("0.4"),
    found: CauseFound = CauseFound.NOT_KNOWN,
    found_note: str = "",
) -> ToolEdge:
    """Fit a fresh edge in a holder slot. The edge that was there is retired by a service event.

    found, found_note: what that says of the open flags that suspect the edge that was there.
    """
    by.must_be(Role.LEAD, to="change tool edges")
    if edge_radius_um <= 0:
        raise BadInput(why="The edge radius is above 0 um.", fields=("edge_radius_um",))
    in_use(lathe)
    if not slot.strip():
        raise BadInput(why="Name the holder slot.", fields=("slot",))
    found = CauseFound(found)
    fitted = list(ToolEdge.objects.filter(lathe=lathe, slot=slot, retired_at=None))
    if not fitted and found != CauseFound.NOT_KNOWN:
        raise BadInput(
            why="No edge was in that slot, so there is no cause to tell: leave that answer out.",
            fields=("found",),
        )
    _told_of(found, found_note, field="found_note")
    for worn in fitted:
        event = ServiceEvent(kind=ServiceKind.EDGE_CHANGED, edge=worn, at=at, by=by.person)
        event.note = ". ".join(filter(None, (found_note.strip(), f"Gave way to {name}")))
        put_down(event, by=by, at=at, found=found)
        ToolEdge.objects.filter(pk=worn.pk).update(retired_at=at, version=F("version") + 1)
        journal.note(by, "edge.retired", subject=worn, at=at, after={"gave_way_to": name})
    edge = ToolEdge(
        name=name,
        note=note,
        lathe=lathe,
        slot=slot,
        edge_radius_um=edge_radius_um,
        nose_radius_mm=nose_radius_mm,
    )
    return register_resource(edge, by=by, at=at)


@transaction.atomic
def register_gauge(
    *,
    name: str,
    step: Length,
    by: Actor,
    at: datetime,
    serial: str = "",
    calibration_due: date | None = None,
    calibration_u_mm: Decimal = Decimal(0),
    note: str = "",
) -> Gauge:
    """`step`: the gauge's smallest division. `calibration_u_mm`: standard uncertainty."""
    if step.mm <= 0:
        raise BadInput(why="The gauge's step is above zero.", fields=("step",))
    if calibration_u_mm < 0:
        raise BadInput(why="An uncertainty is not negative.", fields=("calibration_u_mm",))
    gauge = Gauge(
        name=name,
        note=note,
        serial=serial,
        step_mm=step.mm,
        step_value=f"{step.value:f}",
        step_unit=step.unit.value,
        calibration_due=calibration_due,
        calibration_u_mm=calibration_u_mm,
    )
    return register_resource(gauge, by=by, at=at)


def register_resource(resource: R, *, by: Actor, at: datetime) -> R:
    """Save a new one under a name of its own, and note it."""
    what = type(resource)._meta.verbose_name
    by.must_be(Role.LEAD, to=f"register a {what}")
    resource.name = resource.name.strip()
    _check(resource)
    resource.registered_at = at
    try:
        with transaction.atomic():
            resource.save()
    except IntegrityError:  # somebody took the name since it was looked up
        raise _name_taken(resource) from None
    journal.note(by, f"{what}.registered", subject=resource, at=at, after={"name": resource.name})
    return resource


def _check(resource: Resource) -> None:
    if not resource.name:
        raise BadInput(why=f"Give the {resource._meta.verbose_name} a name.", fields=("name",))
    same_name = type(resource)._default_manager.filter(name__iexact=resource.name)
    if same_name.exclude(pk=resource.pk).exists():
        raise _name_taken(resource)
    if isinstance(resource, Fixture):
        _check_fixture(resource)
    if isinstance(resource, ToolEdge) and resource.nose_radius_mm <= 0:
        raise BadInput(why="The nose radius is above zero.", fields=("nose_radius",))
    if isinstance(resource, Lathe) and not 0 < resource.dial_factor <= 1:
        raise BadInput(
            why="The dial factor is above 0 and at most 1: 1 for carriage, less for the compound.",
            fields=("dial_factor",),
        )


def _check_fixture(fixture: Fixture) -> None:
    if fixture.jaws not in (3, 4):
        raise BadInput(why="A fixture is held in three jaws or four.", fields=("jaws",))
    if fixture.planes_apart_mm is not None and fixture.planes_apart_mm <= 0:
        raise BadInput(
            why="The two circles it is indicated on lie apart: give the distance, or nothing.",
            fields=("planes_apart",),
        )
    if fixture.to_face_mm < 0:
        raise NegativeLength(
            what="The distance to the base", got_mm=fixture.to_face_mm, fields=("to_face",)
        )


def _name_taken(resource: Resource) -> AlreadyThere:
    what = f"A {resource._meta.verbose_name} called"
    return AlreadyThere(what=what, name=resource.name, fields=("name",))


@transaction.atomic
def change_resource(
    *, resource: R, by: Actor, at: datetime, expected_version: int, **changes: Any
) -> R:
    """Change a resource's descriptive columns. Raises ChangedMeanwhile if someone was first."""
    by.must_be(Role.LEAD, to="change the shop's resources")
    before = {name: getattr(resource, name) for name in changes}
    if "name" in changes:
        changes["name"] = changes["name"].strip()
    wanted = copy(resource)
    for name, value in changes.items():
        setattr(wanted, name, value)
    _check(wanted)
    asked_for = type(resource)._default_manager.filter(pk=resource.pk, version=expected_version)
    try:
        with transaction.atomic():
            changed = asked_for.update(version=F("version") + 1, **changes)
    except IntegrityError:
        # Either somebody took the name since it was looked up, or a value is out of its bounds.
        _check(wanted)
        raise BadInput(why="A value is out of its bounds. Nothing was changed.") from None
    if not changed:
        resource.refresh_from_db()
        raise ChangedMeanwhile(what=resource, seen=expected_version, now=resource.version)
    journal.note(by, "resource.changed", subject=resource, at=at, before=before, after=changes)
    resource.refresh_from_db()
    return resource


@transaction.atomic
def retire(
    *, resource: R, by: Actor, at: datetime, why: str, expected_version: int | None = None
) -> R:
    """Take a resource out of use. Its jobs keep it; no new job may choose it; the open flags about
    it are withdrawn."""
    by.must_be(Role.LEAD, to="retire a resource")
    if not why.strip():
        raise BadInput(why="Say why it is retired.", fields=("why",))
    standing = type(resource)._default_manager.filter(pk=resource.pk, retired_at=None)
    if expected_version is not None:
        standing = standing.filter(version=expected_version)
    done = standing.update(retired_at=at, version=F("version") + 1)
    resource.refresh_from_db()
    if not done:
        if expected_version is not None and resource.version != expected_version:
            raise ChangedMeanwhile(what=resource, seen=expected_version, now=resource.version)
        in_use(resource)
    journal.note(by, "resource.retired", subject=resource, at=at, why=why)
    withdraw_retired(resource, by=by, at=at, why=why.strip())
    return resource


def in_use(resource: R) -> R:
    """The resource itself, or Retired."""
    if resource.is_retired:
        field = str(type(resource)._meta.model_name)
        raise Retired(what=_what(resource), name=resource.name, fields=(field,))
    return resource


def _what(resource: Resource) -> str:
    return str(type(resource)._meta.verbose_name).capitalize()


@transaction.atomic
def record_service(
    *,
    subject: Resource,
    kind: ServiceKind,
    by: Actor,
    at: datetime,
    as_found_mm: Decimal | None = None,
    as_left_mm: Decimal | None = None,
    calibration_due: date | None = None,
    calibration_u_mm: Decimal | None = None,
    note: str = "",
    confirm: bool = False,
    found: CauseFound = CauseFound.NOT_KNOWN,
    done_by: Person | None = None,
    done_at: datetime | None = None,
) -> ServiceEvent:
    """Work done on a resource. It starts a new stretch on that resource's charts.

    done_by, done_at: who did it, and when, where that is not who puts it on record, and now.
    A calibration sets when the next is due and, where given, the certificate's uncertainty.
    found: what it says of the open flags that suspect the resource, which end by it; see
    flag_ends.end_by_service. Raises LeftFarOver or LeftWorse where what was left looks like a slip,
    which whoever reported a service was asked then, and LeftOverLimit for a flagged fixture over
    the shop's indicating limit, unless `confirm` says it is meant; for the last the note says why.
    """
    by.must_be(Role.LEAD, to="record service")
    kind = ServiceKind(kind)
    if kind not in SERVICE_KINDS[type(subject)]:
        fitting = " or ".join(str(one.label) for one in SERVICE_KINDS[type(subject)])
        raise BadInput(why=f"A {type(subject)._meta.verbose_name} is {fitting}.", fields=("kind",))
    found = CauseFound(found)
    _told_of(found, note, field="note")
    if subject.is_retired:
        raise ServiceOfRetired(what=_what(subject), name=subject.name)
    if isinstance(subject, Fixture) and as_left_mm is not None:
        left_true(subject, as_left_mm, confirm=confirm, note=note, at=done_at or at)
    if not confirm and done_by is None:
        looks_right(subject, found_mm=as_found_mm, left_mm=as_left_mm, at=at)
    event = ServiceEvent(
        kind=kind,
        at=done_at or at,
        by=done_by or by.person,
        as_found_mm=as_found_mm,
        as_left_mm=as_left_mm,
        note=note,
    )
    column = {Fixture: "fixture", Lathe: "lathe", ToolEdge: "edge", Gauge: "gauge"}[type(subject)]
    setattr(event, column, subject)
    if isinstance(subject, Gauge) and kind == ServiceKind.CALIBRATED:
        _calibrated(subject, due=calibration_due, u_mm=calibration_u_mm)
    told: dict[str, object] = {"due": calibration_due}
    if done_by is not None:
        told |= {"done_by": done_by.name, "done_at": event.at}
    return put_down(event, by=by, at=at, found=found, told=told)


def _told_of(found: CauseFound, note: str, *, field: str) -> None:
    if found == CauseFound.HERE and not note.strip():
        raise ReasonNeeded(what="A cause that was found", fields=(field,))


def _calibrated(gauge: Gauge, *, due: date | None, u_mm: Decimal | None) -> None:
    if due is None:
        raise BadInput(why="Say when the next calibration is due.", fields=("calibration_due",))
    changes: dict[str, Any] = {"calibration_due": due}
    if u_mm is not None:
        changes["calibration_u_mm"] = u_mm
    Gauge.objects.filter(pk=gauge.pk).update(version=F("version") + 1, **changes)
    gauge.refresh_from_db()
