"""Engine families, and the cylinders that came in: what each gave and what it can still give."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import Count, Max, Q, QuerySet, Sum

from qc.lookups.record.job_lists import JobRow, job_rows
from qc.lookups.record.material import by_the_dial_mm
from qc.lookups.shop.resources import journal_of
from qc.models import Cylinder, EngineFamily, Job, JournalEntry, PortWindow, Round
from qc.numerics.clocking import USEFUL_TURN_DEG


@dataclass(frozen=True)
class FamilyRow:
    """One line of the list; `floor_mm` is the shop's or the maker's, whichever is greater."""

    family: EngineFamily
    floor_mm: Decimal
    cylinders: int
    jobs: int


@dataclass(frozen=True)
class FamilyPage:
    row: FamilyRow
    windows: Sequence[PortWindow]
    journal: Sequence[JournalEntry]


@dataclass(frozen=True)
class CylinderRow:
    """`removed_mm`: taken off the base in all, what came before this record included.

    room_mm: what the flange can still give by the family's figures; None where they are unknown.
    """

    cylinder: Cylinder
    jobs: int
    last_opened_at: datetime | None
    removed_mm: Decimal
    room_mm: Decimal | None


@dataclass(frozen=True)
class CylinderPage:
    row: CylinderRow
    jobs: Sequence[JobRow]


def family_rows() -> list[FamilyRow]:
    """Families by name, retired ones last."""
    return _family_rows(EngineFamily.objects.order_by("name"))


def family_page(family: EngineFamily) -> FamilyPage:
    [row] = _family_rows(EngineFamily.objects.filter(pk=family.pk))
    return FamilyPage(row, windows_of(family), journal_of(family))


def windows_of(family: EngineFamily) -> list[PortWindow]:
    return list(family.windows.all())


def _family_rows(families: QuerySet[EngineFamily]) -> list[FamilyRow]:
    counted = families.annotate(
        cylinders_count=Count("cylinders", distinct=True),
        jobs_count=Count("cylinders__jobs", distinct=True),
    )
    return [
        FamilyRow(
            family=one,
            floor_mm=max(one.floor_mm, one.maker_floor_mm or Decimal(0)),
            cylinders=one.cylinders_count,
            jobs=one.jobs_count,
        )
        for one in sorted(counted, key=lambda one: (one.retired_at is not None, one.name))
    ]


def cylinders_filtered(words: str) -> QuerySet[Cylinder]:
    """Newest first; every word must be in the serial, the customer's reference or the family."""
    found = Cylinder.objects.order_by("-pk")
    for word in words.split():
        found = found.filter(
            Q(serial__icontains=word)
            | Q(customer_reference__icontains=word)
            | Q(family__name__icontains=word)
        )
    return found


def cylinder_rows(cylinders: Iterable[Cylinder]) -> list[CylinderRow]:
    """Rows for these cylinders, newest first."""
    current = Q(jobs__rounds__results__is_current=True)
    keys = [one.pk for one in cylinders]
    wanted = Cylinder.objects.filter(pk__in=keys)
    counted = wanted.select_related("family").annotate(
        jobs_count=Count("jobs", distinct=True),
        last_opened_at=Max("jobs__opened_at"),
        cut_mm=Sum("jobs__rounds__results__depth_cut_mm", filter=current),
    )
    unmeasured = by_the_dial_mm(keys)
    return [
        _cylinder_row(one, unmeasured.get(one.pk, Decimal(0))) for one in counted.order_by("-pk")
    ]


def cylinder_page(cylinder: Cylinder) -> CylinderPage:
    [row] = cylinder_rows([cylinder])
    return CylinderPage(row, job_rows(Job.objects.filter(cylinder=cylinder).order_by("-pk")))


def clocking_answer(cylinder: Cylinder) -> dict[str, Any] | None:
    """The newest clocking test of this cylinder, as it was answered: one turned far enough, or
    else the newest at all."""
    rounds = Round.objects.filter(job__cylinder=cylinder, clocking_test__isnull=False)
    answers: list[dict[str, Any]] = [one.clocking_test for one in rounds.order_by("-pk")]
    turned = [one for one in answers if USEFUL_TURN_DEG <= one["turn_deg"] <= 360 - USEFUL_TURN_DEG]
    return next(iter(turned or answers), None)


def _cylinder_row(cylinder: Any, unmeasured_mm: Decimal) -> CylinderRow:
    family = cylinder.family
    removed = cylinder.earlier_cut_mm + (cylinder.cut_mm or Decimal(0)) + unmeasured_mm
    room = None
    if family.flange_mm is not None and family.flange_min_mm is not None:
        room = family.flange_mm - family.flange_min_mm - removed
    return CylinderRow(
        cylinder=cylinder,
        jobs=cylinder.jobs_count,
        last_opened_at=cylinder.last_opened_at,
        removed_mm=removed,
        room_mm=room,
    )
