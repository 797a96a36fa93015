"""The list of fixtures: where each stands, and how much is known of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from django.db.models import Count, Max, OuterRef, Q, QuerySet, Subquery

from qc.lookups.charts.fixture_chart import last_restarts
from qc.lookups.flags.visible import open_on_fixtures
from qc.models import Fixture, FlagState, JobResult, ServiceEvent
from qc.numerics.tilt_chart import NOISE_SD_MM, PRIOR_SD_MM

# So many jobs of its own weigh as much as the bias the chart assumes a service leaves behind.
OWN_JOBS_WANTED = round((NOISE_SD_MM / PRIOR_SD_MM) ** 2)
ON_CHART = Q(tilt_cos_mm__isnull=False, round__clocking_deg__isnull=False)


class FixtureStanding(StrEnum):
    """Where a fixture stands, in words; each has a mark of its own on the pages."""

    FLAGGED = "flagged"
    LOOKED_INTO = "being looked into"
    THIN = "baseline still thin"
    QUIET = "no sign of a move"
    RETIRED = "retired"


@dataclass(frozen=True)
class FixtureRow:
    """One line of the list. `own_jobs` are those on its chart since it was last put right."""

    id: int
    name: str
    note: str
    standing: FixtureStanding
    jobs: int
    own_jobs: int
    last_job_at: datetime | None
    last_service: ServiceEvent | None


def fixture_rows() -> list[FixtureRow]:
    """Every fixture: those in use by name, then the retired ones."""
    fixtures = sorted(Fixture.objects.all(), key=lambda one: (one.is_retired, one.name))
    return _rows(fixtures)


def fixture_row(fixture: Fixture) -> FixtureRow:
    return _rows([fixture])[0]


def standing_of(fixture: Fixture, *, flag_state: str | None, own_jobs: int) -> FixtureStanding:
    if fixture.is_retired:
        return FixtureStanding.RETIRED
    if flag_state == FlagState.RAISED:
        return FixtureStanding.FLAGGED
    if flag_state == FlagState.LOOKED_INTO:
        return FixtureStanding.LOOKED_INTO
    return FixtureStanding.THIN if own_jobs < OWN_JOBS_WANTED else FixtureStanding.QUIET


def _rows(fixtures: Sequence[Fixture]) -> list[FixtureRow]:
    flags = dict(open_on_fixtures().filter(fixture__in=fixtures).values_list("fixture_id", "state"))
    measured = _measured(fixtures, last_restarts())
    services = {one.fixture_id: one for one in _last_services(fixtures)}
    rows = []
    for one in fixtures:
        told = measured.get(one.pk, {})
        own = told.get("own", 0)
        rows.append(
            FixtureRow(
                id=one.pk,
                name=one.name,
                note=one.note,
                standing=standing_of(one, flag_state=flags.get(one.pk), own_jobs=own),
                jobs=told.get("jobs", 0),
                own_jobs=own,
                last_job_at=told.get("last"),
                last_service=services.get(one.pk),
            )
        )
    return rows


def _measured(
    fixtures: Sequence[Fixture], restarts: Mapping[int, datetime]
) -> dict[int, dict[str, Any]]:
    """By fixture: its measured rounds, those on its chart since it last started afresh, and when
    the last was measured; none for a fixture that has no job."""
    told = (
        JobResult.objects.order_by()
        .filter(is_current=True, round__fixture__in=fixtures)
        .values("round__fixture_id")
        .annotate(
            jobs=Count("pk"),
            own=Count("pk", filter=ON_CHART & ~_earlier(restarts)),
            last=Max("measured_at"),
        )
    )
    return {row["round__fixture_id"]: dict(row) for row in told}


def _earlier(restarts: Mapping[int, datetime]) -> Q:
    """Rounds measured before their fixture's chart started afresh; without a restart, none."""
    before = Q(pk__in=())
    for key, at in restarts.items():
        before |= Q(round__fixture=key, measured_at__lt=at)
    return before


def _last_services(fixtures: Sequence[Fixture]) -> QuerySet[ServiceEvent]:
    newest = ServiceEvent.objects.filter(fixture=OuterRef("fixture")).order_by("-at", "-pk")
    return ServiceEvent.objects.filter(fixture__in=fixtures, pk=Subquery(newest.values("pk")[:1]))
