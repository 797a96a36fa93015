"""The shop as its pages name it: what it has, its people and their tokens."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import F, QuerySet

from qc.actor import Actor
from qc.lookups.pages.choices import Choice
from qc.models import (
    BenchToken,
    Cylinder,
    EngineFamily,
    Fixture,
    Gauge,
    GaugeStudy,
    Lathe,
    Person,
    Role,
    Standard,
    ToolEdge,
)


@dataclass(frozen=True)
class ShopCounts:
    """What the shop has in use; cylinders are all it has ever seen."""

    lathes: int
    edges: int
    gauges: int
    gauges_overdue: int
    studies_open: int
    standards: int
    fixtures: int
    families: int
    cylinders: int
    people: int
    tokens: int


def shop_counts(*, today: date) -> ShopCounts:
    gauges = Gauge.objects.filter(retired_at=None)
    return ShopCounts(
        lathes=Lathe.objects.filter(retired_at=None).count(),
        edges=ToolEdge.objects.filter(retired_at=None).count(),
        gauges=gauges.count(),
        gauges_overdue=gauges.filter(calibration_due__lt=today).count(),
        studies_open=GaugeStudy.objects.filter(closed_at=None).count(),
        standards=Standard.objects.filter(retired_at=None).count(),
        fixtures=Fixture.objects.filter(retired_at=None).count(),
        families=EngineFamily.objects.filter(retired_at=None).count(),
        cylinders=Cylinder.objects.count(),
        people=Person.objects.filter(is_active=True).count(),
        tokens=BenchToken.objects.filter(revoked_at=None).count(),
    )


def people() -> QuerySet[Person]:
    """Active people by name, then closed accounts."""
    return Person.objects.order_by("-is_active", "name")


def tokens(*, of: Person | None) -> QuerySet[BenchToken]:
    """Bench tokens newest first, revoked ones last; only those a person may revoke, where named."""
    found = BenchToken.objects.select_related("person", "made_by")
    if of is not None:
        found = found.filter(person=of) | found.filter(made_by=of)
    return found.order_by(F("revoked_at").desc(nulls_first=True), "-made_at")


def lathes_in_use() -> list[Choice]:
    return [Choice(one.pk, one.name) for one in Lathe.objects.filter(retired_at=None)]


def may_act_for(actor: Actor) -> list[Choice]:
    """Whom a bench tool may act for: anyone for a lead, nobody but oneself for the others."""
    active = Person.objects.filter(is_active=True)
    if not actor.may(Role.LEAD):
        active = active.filter(pk=actor.person.pk)
    return [Choice(one.pk, f"{one.name}, {one.get_role_display()}") for one in active]
