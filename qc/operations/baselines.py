"""Freezing a chart's limits, and giving them up: a lead decides, with jobs and a reason."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from django.db import transaction

from qc.actor import Actor
from qc.errors import BadInput, ReasonNeeded
from qc.lookups.charts.baselines import jobs_between, limits_of_jobs
from qc.lookups.charts.kept_charts import Place
from qc.lookups.charts.kept_errors import ErrorChartKept
from qc.models import Baseline, Role
from qc.operations import journal
from qc.operations.error_signals import follow_one, one_at_a_time
from qc.operations.stored_charts import lock


@transaction.atomic
def freeze_limits(
    *,
    chart: ErrorChartKept,
    first_job: int,
    last_job: int,
    leave_out: Collection[int] = (),
    why: str,
    by: Actor,
    at: datetime,
) -> Baseline:
    """Freeze the limits that these jobs give. They hold from the first of them on.

    Jobs are named by number, in cutting order; limits that stand are renewed. Signals of jobs since
    then follow. Raises BadInput, TooFewReadings, ReasonNeeded, NotAllowed.
    """
    by.must_be(Role.LEAD, to="freeze a chart's limits")
    if not why.strip():
        raise ReasonNeeded(what="Freezing limits")
    one_at_a_time()
    [row] = lock([chart])
    jobs = jobs_between(chart, first_job=first_job, last_job=last_job, leave_out=leave_out)
    limits = limits_of_jobs(chart, jobs)
    holds_from = jobs[0].place.at
    standing = row.baselines.filter(holds_until=None).first()
    if standing is not None:
        _end(standing, until=max(holds_from, standing.holds_from), why=why, by=by, at=at)
    baseline = Baseline.objects.create(
        chart=row,
        centre_mm=limits.centre,
        sigma_mm=limits.sigma,
        job_count=limits.jobs,
        pair_count=limits.pairs,
        holds_from=holds_from,
        frozen_at=at,
        frozen_by=by.person,
        why=why.strip(),
    )
    baseline.rounds.set([one.round_id for one in jobs])
    journal.note(
        by,
        "limits.frozen",
        subject=baseline,
        at=at,
        before={} if standing is None else _told(standing),
        after={**_told(baseline), "rounds": [one.round_id for one in jobs]},
        why=why,
    )
    follow_one(chart, at=at, since=Place(holds_from, 0))
    return baseline


@transaction.atomic
def give_up_limits(*, baseline: Baseline, why: str, by: Actor, at: datetime) -> Baseline:
    """End frozen limits: jobs measured from now on are judged by limits estimated afresh."""
    by.must_be(Role.LEAD, to="give up a chart's limits")
    if not why.strip():
        raise ReasonNeeded(what="Giving up frozen limits")
    one_at_a_time()
    if not _end(baseline, until=max(at, baseline.holds_from), why=why, by=by, at=at):
        raise BadInput(why="Those limits were given up already.")
    baseline.refresh_from_db()
    assert baseline.holds_until is not None
    journal.note(
        by, "limits.given_up", subject=baseline, at=at, before=_told(baseline), after={}, why=why
    )
    follow_one(
        ErrorChartKept.of_key(baseline.chart.key), at=at, since=Place(baseline.holds_until, 0)
    )
    return baseline


def _end(baseline: Baseline, *, until: datetime, why: str, by: Actor, at: datetime) -> int:
    return Baseline.objects.filter(pk=baseline.pk, holds_until=None).update(
        holds_until=until, ended_at=at, ended_by=by.person, why_ended=why.strip()
    )


def _told(baseline: Baseline) -> dict[str, object]:
    return {
        "chart": baseline.chart.key,
        "centre_mm": baseline.centre_mm,
        "sigma_mm": baseline.sigma_mm,
        "holds_from": baseline.holds_from,
    }
