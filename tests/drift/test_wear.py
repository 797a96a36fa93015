"""Wear is told of what wears, and of nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from qc.errors import BadInput
from qc.numerics.drift import Budget, Event, Watch, jobs
from qc.numerics.drift.decision import Costs, best_job_count
from qc.numerics.drift.excess import Excess
from qc.numerics.drift.wear import wear_of

JOBS, SD = 160, 0.010


def edges(added):
    """Three edges used by turns, `added` to each job's height of the first."""
    which, rng = np.arange(JOBS) % 3, np.random.default_rng(11)
    error = rng.normal(0, SD, JOBS) + np.where(which == 0, added, 0.0)
    watch = Watch(budget=Budget(), on_flag="hold")
    watch.take(jobs(JOBS, edge=which, edge_jobs=np.zeros(JOBS), height_error_mm=error))
    return watch


def wear_of_first(watch):
    return wear_of(watch.channels["height"].about("edge", 0), kind="edge", resource=0)


def test_a_slope_is_told_with_its_size_until_the_edge_is_changed():
    watch = edges(0.0015 * (np.maximum(0, np.arange(JOBS) - 60) // 3))
    worn = wear_of_first(watch)
    assert worn.is_told
    assert worn.a_job == pytest.approx(0.0015, abs=2 * worn.u)
    watch.take(jobs(0), events=[Event(before_job=0, kind="edge", resource=0, what="serviced")])
    assert not wear_of_first(watch).is_told


@pytest.mark.parametrize("knock", [0.040, 0.0])
def test_a_knock_or_nothing_is_no_wear(knock):
    watch = edges(np.where(np.arange(JOBS) > 60, knock, 0.0))
    found = wear_of_first(watch)
    assert found.probability < 0.1
    assert not found.is_told
    with pytest.raises(BadInput, match="no job of edge 9"):
        wear_of(watch.channels["height"], kind="edge", resource=9)


@pytest.mark.parametrize(("slope", "pays"), [(0.0004, True), (0.00002, False)])
def test_the_best_count_pays_clearly_where_it_saves_a_service_over_never(slope, pays):
    """By hand: a slope of 0.0004 makes 0.0004 x 200 x 201 / 2 = 8.04 misses in 200 jobs, which cost
    40.2; done every 32 jobs it comes to 200 x 0.064 = 12.8. A slope of 0.00002 costs 2.0 in all,
    and 1 + 2.0 done once."""
    ramp = slope * np.arange(1, 201)
    got = best_job_count(Excess(ramp, 0.05, 0.05), costs=Costs(miss=5, reindication=1))
    assert got.pays_clearly is pays
