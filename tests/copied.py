"""Measured jobs by the hundred: copies of one that was really cut, straight into the tables."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any, TypeVar

from django.db import models

from qc.models import Fixture, Job, JobResult, ReadingSet, Round
from tests.cutting import cut_job
from tests.make import Shop
from tests.points import season

M = TypeVar("M", bound=models.Model)


def copies(row: M, count: int) -> list[M]:
    made = []
    for _ in range(count):
        one = type(row)(**{f.attname: getattr(row, f.attname) for f in row._meta.concrete_fields})
        one.pk = None
        made.append(one)
    return made


def copy_job(
    like: Job,
    *,
    at: Sequence[datetime],
    tolerance_mm: Sequence[float] = (),
    fixtures: Sequence[Fixture] = (),
    **results: Sequence[Any],
) -> list[Round]:
    """A measured job like this one for each time, in this order; `like` counts on no chart from
    then on.

    tolerance_mm: either way, one a job. fixtures: by turns. results: columns of JobResult, with a
    value a job.
    """
    round_, count = like.rounds.get(), len(at)
    assert round_.achieved_set is not None
    jobs = copies(like, count)
    for job, tolerance in zip(jobs, tolerance_mm, strict=False):
        job.tol_minus_mm = job.tol_plus_mm = tolerance  # type: ignore[assignment]
    jobs = Job.objects.bulk_create(jobs, batch_size=500)
    rounds = copies(round_, count)
    for n, (one, job) in enumerate(zip(rounds, jobs, strict=True)):
        one.job, one.achieved_set = job, None
        if fixtures:
            one.fixture = fixtures[n % len(fixtures)]
    rounds = Round.objects.bulk_create(rounds, batch_size=500)
    sets = copies(round_.achieved_set, count)
    told = copies(round_.results.get(), count)
    for n, (one, result, own) in enumerate(zip(rounds, told, sets, strict=True)):
        own.job, own.round, result.round = one.job, one, one
        own.at = result.measured_at = at[n]
        result.is_current = True
        for column, values in results.items():
            setattr(result, column, values[n])
    sets = ReadingSet.objects.bulk_create(sets, batch_size=500)
    for one, own in zip(rounds, sets, strict=True):
        one.achieved_set = own
    Round.objects.bulk_update(rounds, ["achieved_set"], batch_size=500)
    JobResult.objects.bulk_create(told, batch_size=500)
    round_.results.update(is_current=False)
    return rounds


def put_season(shop: Shop, jobs: int = 25, **how: Any) -> list[Round]:
    """The jobs of tests.points.season as the shop's own."""
    made = season(jobs, **how)
    return copy_job(
        cut_job(shop, "season", learn=False),
        at=[one.at for one in made],
        tolerance_mm=[one.tol_plus_mm for one in made],
        target_error_mm=[one.target_error_mm for one in made],
        height_error_mm=[one.height_error_mm for one in made],
        spread_mm=[one.spread_mm for one in made],
    )
