"""The list of fixtures: where each stands, and how much is known of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from qc.lookups.fixture_chart import restart_times
from qc.lookups.flags import open_on_fixtures
from qc.models import Fixture, FlagState, JobResult, ServiceEvent
from qc.numerics.tilt_chart import NOISE_SD_MM, PRIOR_SD_MM

# So many jobs of its own weigh as much as the bias the chart assumes a service leaves behind.
OWN_JOBS_WANTED = round((NOISE_SD_MM / PRIOR_SD_MM) ** 2)


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

    @property
    def own_jobs_wanted(self) -> int:
        """How many more jobs of its own before its baseline is more than thin."""
        return max(0, OWN_JOBS_WANTED - self.own_jobs)


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
    services = {one.fixture_id: one for one in ServiceEvent.objects.filter(fixture__in=fixtures)}
    measured = _measured(fixtures)
    restarts = restart_times()
    rows = []
    for one in fixtures:
        jobs = measured.get(one.pk, [])
        begins = max(restarts.get(one.pk, []), default=None)
        own = sum(charted and (begins is None or at >= begins) for at, charted in jobs)
        rows.append(
            FixtureRow(
                id=one.pk,
                name=one.name,
                note=one.note,
                standing=standing_of(one, flag_state=flags.get(one.pk), own_jobs=own),
                jobs=len(jobs),
                own_jobs=own,
                last_job_at=max((at for at, _ in jobs), default=None),
                last_service=services.get(one.pk),
            )
        )
    return rows


def _measured(fixtures: Sequence[Fixture]) -> dict[int, list[tuple[datetime, bool]]]:
    """When each fixture's rounds were measured, and whether each has a place on its chart."""
    seen: dict[int, list[tuple[datetime, bool]]] = {}
    results = JobResult.objects.filter(is_current=True, round__fixture__in=fixtures)
    for key, at, tilt, clocking in results.values_list(
        "round__fixture_id", "measured_at", "tilt_cos_mm", "round__clocking_deg"
    ):
        seen.setdefault(key, []).append((at, tilt is not None and clocking is not None))
    return seen
