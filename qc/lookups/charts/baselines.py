"""Frozen limits: which jobs would make them, and who froze which, from what, when and why."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from qc.errors import BadInput
from qc.lookups.charts.kept_charts import Place
from qc.lookups.charts.kept_errors import ErrorChartKept, ErrorJob
from qc.models import Baseline
from qc.numerics.charts.first_jobs import BASELINE_JOBS, FEWEST_JOBS, limits_from_jobs
from qc.numerics.charts.individuals import IndividualsLimits


@dataclass(frozen=True)
class ChartJob(ErrorJob):
    """A job on a chart, with its number, and whether it begins a stretch or follows a gap."""

    job_id: int
    begins: bool


def jobs_between(
    chart: ErrorChartKept, *, first_job: int, last_job: int, leave_out: Collection[int] = ()
) -> list[ChartJob]:
    """The chart's jobs from one job to another in cutting order, without those left out.

    Raises BadInput where one of them is not on the chart, or the last comes before the first.
    """
    rows = list(chart.results().values_list(*chart.columns(), "round__job_id"))
    numbers = [row[-1] for row in rows]
    for field, job in (("first_job", first_job), ("last_job", last_job)):
        if job not in numbers:
            raise BadInput(why=f"Job {job} is not on this chart.", fields=(field,))
    begin = numbers.index(first_job)
    end = len(numbers) - numbers[::-1].index(last_job)
    strangers = set(leave_out) - set(numbers[begin:end])
    if end <= begin or strangers:
        why = f"Job {first_job} came after job {last_job}: name them in cutting order."
        if strangers:
            why = f"Job {min(strangers)} is not among those jobs."
        raise BadInput(why=why, fields=("leave_out" if strangers else "last_job",))
    restarts = chart.scope.service_times()
    found: list[ChartJob] = []
    before: datetime | None = None
    for at, pk, round_id, policy_id, value, job_id in rows[begin:end]:
        if job_id in leave_out:
            before = None
            continue
        begins = before is None or any(before < one <= at for one in restarts)
        place = Place(at, pk)
        found.append(ChartJob(place, round_id, float(value), policy_id, job_id, begins))
        before = at
    if len(found) < FEWEST_JOBS:
        raise BadInput(
            why=f"Limits need {FEWEST_JOBS} jobs at least; these are {len(found)}.",
            fields=("last_job",),
        )
    return found


def limits_of_jobs(chart: ErrorChartKept, jobs: Sequence[ChartJob]) -> IndividualsLimits:
    """The limits these jobs give. Raises TooFewReadings, BadInput for a gauge too coarse."""
    return limits_from_jobs(tuple(one.value_mm for one in jobs), tuple(one.begins for one in jobs))


def suggested_jobs(chart: ErrorChartKept) -> tuple[int, int] | None:
    """The newest jobs, as many as limits rest on: the first and the last number of them."""
    newest = list(chart.results().reverse().values_list("round__job_id", flat=True)[:BASELINE_JOBS])
    return (newest[-1], newest[0]) if newest else None


def baselines_of(chart: ErrorChartKept) -> QuerySet[Baseline]:
    """Every limit ever frozen for the chart, newest first."""
    return (
        Baseline.objects.filter(chart__kind=chart.kind, chart__key=chart.key)
        .select_related("chart", "frozen_by", "ended_by")
        .prefetch_related("rounds")
    )
