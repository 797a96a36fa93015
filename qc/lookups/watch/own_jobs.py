"""The measured rounds of one fixture, lathe, edge, gauge or person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from django.db.models import QuerySet

from qc.lookups.charts.kept_charts import Place
from qc.lookups.record.channels import measured_rounds
from qc.lookups.watch.drift_jobs import as_row, newest_jobs
from qc.models import DriftChannel, JobResult
from qc.numerics.drift import Jobs, Move, jobs

# Which of a round's columns says that it was done with it. A person's are those they measured.
OWN = {
    "fixture": "round__fixture",
    "lathe": "round__lathe",
    "edge": "round__edge",
    "gauge": "round__achieved_set__gauge",
    "person": "round__achieved_set__by",
}
# What each kind bears on, what shows it best first.
BEARS_ON: dict[str, Sequence[DriftChannel]] = {
    "fixture": (DriftChannel.TILT,),
    "lathe": (DriftChannel.HEIGHT,),
    "edge": (DriftChannel.HEIGHT,),
    "gauge": (DriftChannel.HEIGHT, DriftChannel.SPREAD),
    "person": (DriftChannel.TILT, DriftChannel.HEIGHT, DriftChannel.SPREAD),
}


def own_rounds(kind: str, key: int) -> QuerySet[JobResult]:
    """In cutting order."""
    return measured_rounds().filter(**{OWN[kind]: key})


def people_with_jobs() -> set[int]:
    """Who has measured a job: others have no technique to tell of."""
    return set(measured_rounds().order_by().values_list(OWN["person"], flat=True).distinct())


def as_jobs(rounds: QuerySet[JobResult], *, count: int) -> Jobs:
    """The newest of these rounds as the drift sums take them, oldest first."""
    rows = [as_row(one, edge_jobs=0) for one in newest_jobs(rounds, count)]
    if not rows:
        return jobs(0)
    return Jobs(
        **{
            name: np.concatenate([getattr(one, name) for one in rows])
            for name in Jobs.__dataclass_fields__
        }
    )


def on_own_jobs(move: Move, *, kind: str, key: int, of: int, newest: Place) -> Move:
    """With the ends of since-when moved in to jobs that were done with it: the watch keeps one
    onset for several of them, and counts every job of the shop. of, newest: as rounds_of."""
    if move.earliest_job == move.latest_job:
        return move
    rows = measured_rounds().filter(newest.not_later(), measured_at__lte=newest.at).reverse()
    whose = rows.values_list(OWN[kind], flat=True)[
        of - 1 - move.latest_job : of - move.earliest_job
    ]
    own = [move.latest_job - n for n, one in enumerate(whose) if one == key]
    return replace(
        move,
        earliest_job=min([*own, move.onset_job]),
        latest_job=max([*own, move.onset_job]),
    )
