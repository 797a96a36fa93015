"""Engine families and the cylinders that come in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import F

from qc.actor import Actor
from qc.errors import (
    AlreadyThere,
    BadInput,
    ChangedMeanwhile,
    KnownHere,
    NegativeLength,
    Retired,
    RodTooShort,
    TargetUnderFloor,
)
from qc.lookups.record.effects import burette_of
from qc.models import Cylinder, EngineFamily, PortWindow, Role
from qc.operations import journal

CHOICES = tuple(
    field.name
    for field in EngineFamily._meta.concrete_fields
    if field.name not in ("id", "version", "retired_at")
)
CC_PLACES = Decimal("0.001")
LENGTHS = tuple(name for name in CHOICES if name.endswith("_mm"))


@dataclass(frozen=True)
class WindowIn:
    """A window as PortWindow keeps it: degrees on the engine's clock, mm of piston travel."""

    name: str
    centre_deg: Decimal
    half_width_deg: Decimal
    upper_mm: Decimal
    lower_mm: Decimal

    @classmethod
    def of(cls, row: PortWindow) -> WindowIn:
        return cls(row.name, row.centre_deg, row.half_width_deg, row.upper_mm, row.lower_mm)


@transaction.atomic
def add_family(*, by: Actor, at: datetime, **columns: Any) -> EngineFamily:
    """Add a family; `columns` are EngineFamily's, lengths as Decimal mm."""
    by.must_be(Role.LEAD, to="add an engine family")
    family = EngineFamily(**columns)
    _check(family)
    try:
        with transaction.atomic():
            family.save()
    except IntegrityError:  # somebody took the name since it was looked up
        raise _name_taken(family) from None
    family.refresh_from_db()
    journal.note(by, "family.added", subject=family, at=at, after=columns)
    return family


@transaction.atomic
def change_family(
    *, family: EngineFamily, by: Actor, at: datetime, expected_version: int, **columns: Any
) -> EngineFamily:
    """Change a family for the jobs to come; a job keeps the limits it was opened with."""
    by.must_be(Role.LEAD, to="change an engine family")
    before = {name: getattr(family, name) for name in columns}
    changed = EngineFamily.objects.get(pk=family.pk)
    for name, value in columns.items():
        setattr(changed, name, value)
    _check(changed)
    asked_for = EngineFamily.objects.filter(pk=family.pk, version=expected_version)
    try:
        with transaction.atomic():
            done = asked_for.update(version=F("version") + 1, **columns)
    except IntegrityError:  # somebody took the name since it was looked up
        raise _name_taken(changed) from None
    if not done:
        family.refresh_from_db()
        raise ChangedMeanwhile(what=family, seen=expected_version, now=family.version)
    journal.note(by, "family.changed", subject=family, at=at, before=before, after=columns)
    family.refresh_from_db()
    return family


def keep_burette_reading(
    *,
    family: EngineFamily,
    filled_cc: Decimal,
    plug_well_cc: Decimal,
    by: Actor,
    at: datetime,
    expected_version: int,
) -> EngineFamily:
    """Make a measured clearance volume the family's, to the three places it is kept in."""
    found = burette_of(family, filled_cc=filled_cc, plug_well_cc=plug_well_cc)
    return change_family(
        family=family,
        by=by,
        at=at,
        expected_version=expected_version,
        clearance_cc=Decimal(found.clearance_cc).quantize(CC_PLACES),
    )


def _check(family: EngineFamily) -> None:
    same_name = EngineFamily.objects.filter(name__iexact=family.name).exclude(pk=family.pk)
    if same_name.exists():
        raise _name_taken(family)
    try:
        family.clean_fields()
    except ValidationError as error:
        facts = [f"{name}: {' '.join(said)}" for name, said in error.message_dict.items()]
        raise BadInput(why=" ".join(facts), fields=tuple(error.message_dict)) from None
    for name in LENGTHS:
        length = getattr(family, name)
        if length is not None and length < 0:
            what = name.removesuffix("_mm").replace("_", " ").capitalize()
            raise NegativeLength(what=what, got_mm=length, fields=(name,))
    if family.stroke_mm >= 2 * family.rod_mm:
        raise RodTooShort(rod_mm=family.rod_mm, stroke_mm=family.stroke_mm, fields=("rod_mm",))
    floor = floor_of(family)
    if family.target_mm < floor:
        raise TargetUnderFloor(target_mm=family.target_mm, floor_mm=floor, fields=("target_mm",))
    try:
        family.validate_constraints()
    except ValidationError as error:
        raise BadInput(why="Lengths, tolerance and floor must be above zero.") from error


def _name_taken(family: EngineFamily) -> AlreadyThere:
    return AlreadyThere(what="A family called", name=family.name, fields=("name",))


@transaction.atomic
def retire_family(
    *, family: EngineFamily, by: Actor, at: datetime, why: str, expected_version: int | None = None
) -> EngineFamily:
    """Open no more jobs of this family. Its jobs and cylinders keep it."""
    by.must_be(Role.LEAD, to="retire an engine family")
    if not why.strip():
        raise BadInput(why="Say why it is retired.", fields=("why",))
    standing = EngineFamily.objects.filter(pk=family.pk, retired_at=None)
    if expected_version is not None:
        standing = standing.filter(version=expected_version)
    done = standing.update(retired_at=at, version=F("version") + 1)
    family.refresh_from_db()
    if not done:
        if expected_version is not None and family.version != expected_version:
            raise ChangedMeanwhile(what=family, seen=expected_version, now=family.version)
        raise Retired(what="Family", name=family.name, fields=("family",))
    journal.note(by, "family.retired", subject=family, at=at, why=why)
    return family


@transaction.atomic
def set_windows(
    *, family: EngineFamily, windows: Sequence[WindowIn], by: Actor, at: datetime
) -> EngineFamily:
    """Replace the windows of the bore wall that the ring ends are held against."""
    by.must_be(Role.LEAD, to="change an engine family")
    before = [asdict(WindowIn.of(one)) for one in family.windows.all()]
    family.windows.all().delete()
    for one in windows:
        row = PortWindow(family=family, **asdict(one))
        try:
            row.full_clean()
        except ValidationError as error:
            why = f"Window {one.name or '?'}: {' '.join(error.messages)}"
            raise BadInput(why=why, fields=("windows",)) from None
        row.save()
    journal.note(
        by,
        "family.windows_set",
        subject=family,
        at=at,
        before={"windows": before},
        after={"windows": [asdict(one) for one in windows]},
    )
    return family


def floor_of(family: EngineFamily) -> Decimal:
    """The least gap allowed anywhere: the shop's floor or the maker's, whichever is greater."""
    return max(family.floor_mm, family.maker_floor_mm or Decimal(0))


@transaction.atomic
def register_cylinder(
    *,
    family: EngineFamily,
    serial: str,
    by: Actor,
    at: datetime,
    customer_reference: str = "",
    earlier_cut_mm: Decimal = Decimal(0),
) -> Cylinder:
    """A cylinder new to the shop. `earlier_cut_mm`: taken off before this record began."""
    by.must_be(Role.OPERATOR, to="register a cylinder")
    serial = serial.strip()
    if not serial:
        raise BadInput(why="Give the cylinder a serial or a mark.", fields=("serial",))
    if earlier_cut_mm < 0:
        raise BadInput(why="Earlier cuts are not negative.", fields=("earlier_cut",))
    try:
        with transaction.atomic():
            cylinder = Cylinder.objects.create(
                family=family,
                serial=serial,
                customer_reference=customer_reference.strip(),
                earlier_cut_mm=earlier_cut_mm,
                registered_at=at,
            )
    except IntegrityError:
        known = Cylinder.objects.get(family=family, serial=serial)
        raise KnownHere(
            what=f"{family} cylinder", name=serial, key=known.pk, fields=("serial",)
        ) from None
    journal.note(
        by,
        "cylinder.registered",
        subject=cylinder,
        at=at,
        after={"family": family.name, "serial": serial, "earlier_cut_mm": earlier_cut_mm},
    )
    return cylinder
