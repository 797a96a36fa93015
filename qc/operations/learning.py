"""What a new result teaches: signals on the shop's charts, and flags of the drift watch.

Charts are stored and brought up to date job by job. Something new in their past, a correction, a
late job or a service, takes them back to just before it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from qc.actor import Actor
from qc.lookups.charts.fixture_chart import stored_noise
from qc.lookups.charts.kept_charts import Place
from qc.lookups.charts.kept_errors import ErrorChartKept
from qc.lookups.charts.kept_tilts import TiltNoiseKept
from qc.lookups.charts.scopes import (
    SHOP,
    Scope,
    ScopeKind,
    scope_of,
    scopes_of,
    subjects,
)
from qc.models import Channel, ChartKind, Fixture, JobResult, Role, Round, StoredChart, ToolEdge
from qc.operations import journal
from qc.operations.drift import drift_is_current, follow_drift, rebuild_drift
from qc.operations.error_signals import follow, one_at_a_time, rebuild_errors
from qc.operations.stored_charts import bring_up, rebuild
from qc.operations.tilt_charts import follow_fixture, rebuild_fixture


@transaction.atomic
def learn(*, round_ids: Sequence[int], at: datetime) -> None:
    """Bring every chart that these rounds are on up to date. Safe to run twice.

    Once for all of them: a chart goes back to the first of them and is stepped from there. at: when
    the newest was asked for, so that no flag is raised before its job. Raises Round.DoesNotExist.
    """
    rounds = [Round.objects.select_related("fixture").get(pk=one) for one in round_ids]
    one_at_a_time()
    since = _earliest(round_ids)
    scopes = {scope: None for one in rounds for scope in scopes_of(one)}
    fixtures = {one.fixture for one in rounds if one.fixture is not None}
    follow(list(scopes), at=at, since=since)
    _follow_tilts(sorted(fixtures, key=lambda one: one.pk), since=since)
    follow_drift(at=at, since=since)


@transaction.atomic
def follow_restart(*, kind: str, key: int, since: str, at: datetime) -> None:
    """A fixture, lathe, edge or gauge was put right at `since` (ISO 8601), perhaps long ago, or
    somebody's flag closed: its charts start a new stretch there."""
    one_at_a_time()
    place = Place(datetime.fromisoformat(since), 0)
    follow_drift(at=at, since=place)
    if kind == "person":
        return
    if kind == "fixture":
        _follow_tilts([Fixture.objects.get(pk=key)], since=place)
        return
    scopes = [Scope(ScopeKind(kind), key)]
    if kind == ScopeKind.EDGE:
        scopes.insert(0, Scope(ScopeKind.LATHE, ToolEdge.objects.get(pk=key).lathe_id))
    follow(scopes, at=at, since=place)


@dataclass(frozen=True)
class Rebuilt:
    """How many charts there are, and the keys of those that were not what a rebuild gives."""

    charts: int
    differed: Sequence[str]


@transaction.atomic
def rebuild_all(*, at: datetime, by: Actor | None = None) -> Rebuilt:
    """Step every stored chart from nothing. The answer is to the bit what was there, unless work
    asked for is still waiting."""
    if by is not None:
        by.must_be(Role.LEAD, to="rebuild the charts")
    one_at_a_time()
    before = _states()
    scopes = [SHOP, *(scope_of(one) for rows in subjects().values() for one in rows)]
    for scope in scopes:
        for channel in Channel:
            rebuild_errors(ErrorChartKept(channel, scope), at=at)
    rebuild(TiltNoiseKept())
    for fixture in Fixture.objects.order_by("pk"):
        rebuild_fixture(fixture)
    rebuild_drift(at=at)
    after = _states()
    differed = [f"{kind} {key}" for kind, key in before if before[kind, key] != after[kind, key]]
    told = {"charts": len(after), "differed": differed}
    journal.note(by, "charts.rebuilt", subject="charts", at=at, after=told)
    return Rebuilt(len(after), differed)


def start_charts(*, at: datetime) -> None:
    """Work out what a shop's jobs lead to where it comes from an older version: all its charts, or
    the watch alone where it was kept by other sums."""
    if not JobResult.objects.exists():
        return
    if not StoredChart.objects.exists():
        rebuild_all(at=at)
    elif not drift_is_current():
        rebuild_drift(at=at)


def _states() -> dict[tuple[str, str], object]:
    charts = StoredChart.objects.all()
    return {(one.kind, one.key): (one.jobs, one.at, one.result, one.state) for one in charts}


def _earliest(round_ids: Sequence[int]) -> Place | None:
    """Where the first of the rounds stood first, whatever its revisions since."""
    rows = JobResult.objects.filter(round__in=round_ids).order_by("measured_at", "pk")
    first = rows.values_list("measured_at", "pk").first()
    return None if first is None else Place(*first)


def _follow_tilts(fixtures: list[Fixture], *, since: Place | None) -> None:
    """The noise first: where it changed, every fixture's chart follows it."""
    before = stored_noise()
    noise = bring_up(TiltNoiseKept(), since=since).state["noise_sd_mm"]
    own = {one.pk for one in fixtures}
    if noise != before:
        charted = StoredChart.objects.filter(kind=ChartKind.TILT).values_list("key", flat=True)
        known = own | {int(key) for key in charted}
        fixtures = list(Fixture.objects.filter(pk__in=known).order_by("pk"))
    for fixture in fixtures:
        follow_fixture(fixture, since=since if fixture.pk in own else None)
