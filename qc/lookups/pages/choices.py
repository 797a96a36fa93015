"""What a form offers to choose from: retired things are left out, overdue gauges are marked."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, QuerySet

from qc.lookups.flags.suspected import suspected_openly
from qc.lookups.flags.visible import open_on_fixtures
from qc.models import (
    GAP_KINDS,
    INDICATED,
    Cylinder,
    EngineFamily,
    Fixture,
    Gauge,
    Person,
    ReadingSet,
    Role,
    Round,
    ServiceEvent,
    Standard,
    ToolEdge,
)

MOST_CYLINDERS = 50


@dataclass(frozen=True)
class Choice:
    """`key` is what access turns into a row; `group` gathers choices under a heading."""

    key: int
    label: str
    group: str = ""


def gauges(*, on: date) -> Sequence[Choice]:
    return [
        Choice(one.pk, _gauge_label(one, on=on)) for one in Gauge.objects.filter(retired_at=None)
    ]


def indicators(*, on: date) -> Sequence[Choice]:
    """Gauges that a fixture may be indicated with: those that did so first, then those that never
    read a gap, which is work for a micrometer or a caliper."""
    sets = ReadingSet.objects.filter(gauge=OuterRef("pk"))
    rows = Gauge.objects.filter(retired_at=None).annotate(
        has_indicated=Exists(sets.filter(kind__in=INDICATED)),
        has_read_gaps=Exists(sets.filter(kind__in=GAP_KINDS)),
    )
    offered = [one for one in rows if one.has_indicated or not one.has_read_gaps]
    return [
        Choice(one.pk, _gauge_label(one, on=on))
        for one in sorted(offered, key=lambda one: not one.has_indicated)
    ]


def _gauge_label(gauge: Gauge, *, on: date) -> str:
    label = f"{gauge.name}, reads to {gauge.step_value} {gauge.step_unit}"
    due = gauge.calibration_due
    return f"{label} (OVERDUE: calibration was due {due})" if due and due < on else label


def gauge_last_used(person: Person) -> int | None:
    """The gauge of this person's latest gap readings, if it is still in use."""
    last = _latest_sets(person).filter(kind__in=GAP_KINDS).first()
    return None if last is None else last.gauge_id


def gauge_last_indicated(person: Person) -> int | None:
    """The indicator this person last read a fixture with, if it is still in use."""
    last = _latest_sets(person).filter(kind__in=INDICATED).first()
    return None if last is None else last.gauge_id


def _latest_sets(person: Person) -> QuerySet[ReadingSet]:
    sets = ReadingSet.objects.filter(by=person, gauge__isnull=False, gauge__retired_at=None)
    return sets.order_by("-at", "-pk")


def fixtures(family: EngineFamily) -> Sequence[Choice]:
    """Fixtures in use, those that have held an engine of this family first and the others under a
    heading of their own; one believed to have moved, and not put right since, says so."""
    right = ServiceEvent.objects.filter(
        tells_later=True, fixture=OuterRef("fixture"), at__gte=OuterRef("raised_at")
    )
    flagged = set(open_on_fixtures().exclude(Exists(right)).values_list("fixture_id", flat=True))
    held = Round.objects.filter(fixture=OuterRef("pk"), job__cylinder__family=family)
    rows = list(Fixture.objects.filter(retired_at=None).annotate(has_held=Exists(held)))
    headings = {True: f"Have held {family.name}", False: "Others"}
    is_told = len({one.has_held for one in rows}) > 1
    return [
        Choice(
            one.pk,
            f"{one.name}, flagged: indicate it first" if one.pk in flagged else one.name,
            group=headings[one.has_held] if is_told else "",
        )
        for one in sorted(rows, key=lambda one: not one.has_held)
    ]


def edges() -> Sequence[Choice]:
    """Edges in lathes that are in use, by lathe: an edge tells its lathe."""
    rows = ToolEdge.objects.filter(retired_at=None, lathe__retired_at=None).select_related("lathe")
    suspected = suspected_openly()
    return [
        Choice(one.pk, _edge_label(one, suspected), group=one.lathe.name)
        for one in rows.order_by("lathe__name", "slot")
    ]


def _edge_label(edge: ToolEdge, suspected: Collection[tuple[str, int]]) -> str:
    label = f"{edge.name}, slot {edge.slot}"
    if ("edge", edge.pk) in suspected:
        return f"{label}, flagged: gaps may come out wrong"
    if ("lathe", edge.lathe_id) in suspected:
        return f"{label}, its lathe is flagged: gaps may come out wrong"
    return label


def recorders() -> Sequence[Choice]:
    """People who may record: everyone active but viewers."""
    people = Person.objects.filter(is_active=True).exclude(role=Role.VIEWER)
    return [Choice(one.pk, str(one)) for one in people]


def leads() -> Sequence[str]:
    """Names of those who may release."""
    return [str(one) for one in Person.objects.filter(is_active=True, role=Role.LEAD)]


def standards() -> Sequence[Choice]:
    """Standards in use, smallest first."""
    rows = Standard.objects.filter(retired_at=None).order_by("value_mm", "name")
    return [Choice(one.pk, f"{one.name}, {one.value_value} {one.value_unit}") for one in rows]


def families() -> Sequence[Choice]:
    return [Choice(one.pk, one.name) for one in EngineFamily.objects.filter(retired_at=None)]


def cylinders(*, words: str = "", chosen: int | None = None) -> Sequence[Choice]:
    """The newest cylinders whose serial, family or customer reference holds every word."""
    rows = Cylinder.objects.filter(family__retired_at=None)
    for word in words.split():
        rows = (
            rows.filter(serial__icontains=word)
            | rows.filter(customer_reference__icontains=word)
            | rows.filter(family__name__icontains=word)
        )
    keys = list(rows.order_by("-pk").values_list("pk", flat=True)[:MOST_CYLINDERS])
    shown = Cylinder.objects.filter(pk__in=[*keys, chosen or 0]).select_related("family")
    return [Choice(one.pk, _cylinder_label(one)) for one in shown.order_by("-pk")]


def _cylinder_label(cylinder: Cylinder) -> str:
    reference = f", {cylinder.customer_reference}" if cylinder.customer_reference else ""
    return f"{cylinder}{reference}"
