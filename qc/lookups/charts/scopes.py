"""Whose jobs a chart of errors takes in: the whole shop's, or those of one lathe, edge or gauge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from django.db.models import F, Q

from qc.models import Gauge, Kind, Lathe, ReadingSet, Resource, Round, ServiceEvent, ToolEdge


class ScopeKind(StrEnum):
    SHOP = "shop"
    LATHE = "lathe"
    EDGE = "edge"
    GAUGE = "gauge"


KINDS: dict[type[Resource], ScopeKind] = {
    Lathe: ScopeKind.LATHE,
    ToolEdge: ScopeKind.EDGE,
    Gauge: ScopeKind.GAUGE,
}
COLUMN = {
    ScopeKind.LATHE: "round__lathe_id",
    ScopeKind.EDGE: "round__edge_id",
    ScopeKind.GAUGE: "round__achieved_set__gauge_id",
}


@dataclass(frozen=True)
class Scope:
    """One lathe, edge or gauge by its key; the whole shop has none."""

    kind: ScopeKind = ScopeKind.SHOP
    pk: int | None = None

    def __str__(self) -> str:
        return self.kind if self.pk is None else f"{self.kind}/{self.pk}"

    @property
    def lathe_id(self) -> int | None:
        return self.pk if self.kind == ScopeKind.LATHE else None

    def jobs(self) -> Q:
        """Which results are this scope's, on JobResult."""
        return Q() if self.pk is None else Q(**{COLUMN[self.kind]: self.pk})

    def takes(self, whose: Sequence[int | None]) -> bool:
        """Whether a result with these values of COLUMN, in its order, is this scope's."""
        return self.pk is None or whose[list(COLUMN).index(self.kind)] == self.pk

    def services(self) -> Q:
        """Which service events begin a new stretch here; none for the whole shop. A lathe's
        include its edges'."""
        own = Q(**{f"{self.kind}_id": self.pk})
        return own | Q(edge__lathe_id=self.pk) if self.kind == ScopeKind.LATHE else own

    def service_times(self, *, after: datetime | None = None) -> list[datetime]:
        """When stretches begin after a time, in order."""
        if self.pk is None:
            return []
        events = ServiceEvent.objects.filter(self.services())
        if after is not None:
            events = events.filter(at__gt=after)
        return sorted(events.values_list("at", flat=True))


SHOP = Scope()


def scope_of(subject: Resource | None) -> Scope:
    """The scope of a lathe, edge or gauge; of the whole shop for None."""
    return SHOP if subject is None else Scope(KINDS[type(subject)], subject.pk)


def scope_named(text: str) -> Scope:
    """The scope that str() named. Raises ValueError for any other text."""
    kind, _, pk = text.partition("/")
    scope = Scope(ScopeKind(kind), int(pk) if pk else None)
    if (scope.kind == ScopeKind.SHOP) != (scope.pk is None):
        raise ValueError(text)
    return scope


def scopes_of(round_: Round) -> list[Scope]:
    """Every scope the round is on or was on: a round measured again may have changed its gauge."""
    gauges = (
        ReadingSet.objects.filter(round=round_, kind=Kind.ACHIEVED, gauge__isnull=False)
        .order_by("gauge_id")
        .values_list("gauge_id", flat=True)
        .distinct()
    )
    found = [SHOP]
    if round_.lathe_id is not None:
        found.append(Scope(ScopeKind.LATHE, round_.lathe_id))
    if round_.edge_id is not None:
        found.append(Scope(ScopeKind.EDGE, round_.edge_id))
    return [*found, *(Scope(ScopeKind.GAUGE, pk) for pk in gauges)]


def subjects() -> dict[ScopeKind, list[Resource]]:
    """Every lathe, edge and gauge, those in use first, by kind."""
    return {
        kind: list(model._default_manager.order_by(F("retired_at").asc(nulls_first=True), "name"))
        for model, kind in KINDS.items()
    }
