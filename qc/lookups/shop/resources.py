"""Lathes, tool edges, gauges and fixtures as the shop's pages list and show them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, Model, QuerySet

from qc.lookups.shop.listings import services_of
from qc.models import (
    Fixture,
    Gauge,
    JournalEntry,
    Lathe,
    Resource,
    ServiceEvent,
    ToolEdge,
)

# By kind: the way to the jobs it was used for, and the column of a service event that names it.
JOBS: dict[type[Resource], str] = {
    Lathe: "rounds__job",
    ToolEdge: "rounds__job",
    Fixture: "rounds__job",
    Gauge: "reading_sets__job",
}
SERVICE: dict[type[Resource], str] = {
    Lathe: "lathe",
    ToolEdge: "edge",
    Fixture: "fixture",
    Gauge: "gauge",
}


@dataclass(frozen=True)
class ResourceRow:
    """One line of a list. An edge comes with its lathe; a gauge may be overdue for calibration."""

    resource: Resource
    jobs: int
    last_service: ServiceEvent | None
    is_overdue: bool


@dataclass(frozen=True)
class ResourcePage:
    """`edges` are a lathe's, those in use first; `services` and `journal` are newest first."""

    row: ResourceRow
    services: Sequence[ServiceEvent]
    edges: Sequence[ResourceRow]
    journal: Sequence[JournalEntry]


def resource_rows(model: type[Resource], *, today: date) -> list[ResourceRow]:
    """Every resource of the kind: those in use by name, then the retired ones."""
    return _rows(model._default_manager.all(), today=today)


def resource_page(resource: Resource, *, today: date) -> ResourcePage:
    model = type(resource)
    [row] = _rows(model._default_manager.filter(pk=resource.pk), today=today)
    edges = resource.edges.all() if isinstance(resource, Lathe) else ToolEdge.objects.none()
    return ResourcePage(
        row=row,
        services=list(services_of(resource).order_by("-at", "-pk")),
        edges=_rows(edges, today=today),
        journal=journal_of(resource),
    )


def journal_of(subject: Model) -> list[JournalEntry]:
    """What the journal says of one row, newest first."""
    entries = JournalEntry.objects.filter(subject=f"{type(subject).__name__} {subject.pk}")
    return list(entries.select_related("person", "token").order_by("-pk"))


def _rows(resources: QuerySet[Any], *, today: date) -> list[ResourceRow]:
    model = resources.model
    if model is ToolEdge:
        resources = resources.select_related("lathe")
    column = SERVICE[model]
    events = ServiceEvent.objects.filter(**{f"{column}__in": resources})
    services = {getattr(one, f"{column}_id"): one for one in events.order_by("at", "pk")}
    counted = resources.annotate(jobs_count=Count(JOBS[model], distinct=True))
    return [
        ResourceRow(
            resource=one,
            jobs=one.jobs_count,
            last_service=services.get(one.pk),
            is_overdue=_is_overdue(one, today=today),
        )
        for one in sorted(counted, key=lambda one: (one.is_retired, one.name))
    ]


def _is_overdue(resource: Resource, *, today: date) -> bool:
    if not isinstance(resource, Gauge) or resource.is_retired:
        return False
    return resource.calibration_due is not None and resource.calibration_due < today
