"""Rows that are listed one by one, as querysets, so that a caller can take a page of them."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import QuerySet

from qc.models import (
    Cylinder,
    EngineFamily,
    Fixture,
    Gauge,
    Job,
    JournalEntry,
    Lathe,
    Reindication,
    Resource,
    Round,
    ServiceEvent,
    Signal,
    State,
    ToolEdge,
)


def fixtures() -> QuerySet[Fixture]:
    return Fixture.objects.all()


def lathes() -> QuerySet[Lathe]:
    return Lathe.objects.all()


def edges() -> QuerySet[ToolEdge]:
    return ToolEdge.objects.select_related("lathe")


def gauges() -> QuerySet[Gauge]:
    return Gauge.objects.all()


def services_of(resource: Resource) -> QuerySet[ServiceEvent]:
    column = {Fixture: "fixture", Lathe: "lathe", ToolEdge: "edge", Gauge: "gauge"}[type(resource)]
    found = ServiceEvent.objects.filter(**{column: resource})
    return found.select_related("by", "reported__answered_by")


def reindications_of(fixture: Fixture) -> QuerySet[Reindication]:
    return fixture.reindications.select_related("by", "answered_by")


def families() -> QuerySet[EngineFamily]:
    return EngineFamily.objects.all()


def cylinders(*, family_id: int | None = None, serial: str = "") -> QuerySet[Cylinder]:
    """`serial` as it was registered, in whatever case."""
    found = Cylinder.objects.select_related("family")
    if family_id is not None:
        found = found.filter(family_id=family_id)
    return found.filter(serial__iexact=serial) if serial else found


def signals(*, channel: str = "", lathe_id: int | None = None) -> QuerySet[Signal]:
    """Signals that still stand: a correction of the readings may withdraw one."""
    found = Signal.objects.filter(withdrawn_at=None).select_related("round", "lathe")
    if channel:
        found = found.filter(channel=channel)
    return found if lathe_id is None else found.filter(lathe_id=lathe_id)


def jobs_behind(signals: Iterable[Signal]) -> dict[int, int]:
    """The job of every round that made one of these signals' patterns, by the round's key."""
    keys = {key for one in signals for key in one.rounds}
    return dict(Round.objects.filter(pk__in=keys).values_list("pk", "job_id"))


def jobs_to_set_up(count: int) -> list[Job]:
    """So many of those that wait for their set-up, the longest planned first."""
    return list(Job.objects.filter(state=State.PLANNED).order_by("pk")[:count])


def journal_of_job(job: Job) -> QuerySet[JournalEntry]:
    return job.journal.select_related("person", "token")
