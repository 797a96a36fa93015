"""Costs by hand; the least cost by trying every count."""

from __future__ import annotations

import numpy as np
import pytest

from qc.errors import BadInput, NotFinite
from qc.numerics.drift import Budget, Watch, jobs
from qc.numerics.drift.decision import Costs, advise, best_job_count
from qc.numerics.drift.excess import Excess, excess_ahead, height_excess_ahead
from qc.numerics.drift.miss import NextJob, evenness_miss, height_miss
from qc.numerics.drift.suspects import probabilities
from tests.drift.shop import Change, season
from tests.drift.shops import watched


def excess(by_job):
    return Excess(by_job=np.asarray(by_job, dtype=float), now=0.05 + by_job[0], after=0.05)


def test_costs_of_both_ways_by_hand():
    got = advise(excess([0.02] * 40), costs=Costs(miss=75, reindication=25), is_flagged=False)
    assert got.running_on_cost == pytest.approx(0.02 * 75 * 40)
    assert got.reindicating_cost == 25
    # 0.02 x 75 = 1.5 minutes a job: 25 minutes are back after the 17th.
    assert got.pays_after_jobs == 17
    assert (got.excess, got.miss_probability) == pytest.approx((0.02, 0.07))
    assert got.jobs_planned == 40


@pytest.mark.parametrize(
    ("miss", "first", "flagged", "what", "because"),
    [
        (3, 0.30, False, "run_on", None),
        (3, 0.00, True, "reindicate", "flag"),
        (10, 0.04, False, "reindicate", "excess"),
        (10, 0.039, False, "run_on", None),
        (9.9, 0.20, False, "run_on", None),
        (10, 0.20, True, "reindicate", "flag"),
    ],
)
def test_the_policy(miss, first, flagged, what, because):
    got = advise(excess([first]), costs=Costs(miss=miss, reindication=1), is_flagged=flagged)
    assert (got.what, got.because) == (what, because)


def test_what_never_pays_says_so():
    got = advise(excess([-0.01, 0.0, 0.001]), costs=Costs(3, 1), is_flagged=False)
    assert got.pays_after_jobs is None
    assert got.running_on_cost < 0


def test_the_best_count_is_the_least_of_all_counts():
    ramp = 0.0004 * np.arange(1, 201)
    got = best_job_count(excess(ramp), costs=Costs(miss=5, reindication=1))
    cost = [(1 + 5 * ramp[:n].sum()) / n for n in range(1, 201)]
    assert got.jobs == int(np.argmin(cost)) + 1
    assert got.cost_a_job == pytest.approx(min(cost))
    # c_r = c_m s n^2 / 2 at the best of a straight ramp: n = sqrt(2 / (5 x 0.0004)) = 31.6.
    assert abs(got.jobs - 31.6) < 1
    assert not got.is_last_looked_at


def test_a_step_gives_no_count_of_its_own():
    got = best_job_count(excess([0.1] * 60), costs=Costs(miss=5, reindication=1))
    assert got.jobs == 60
    assert got.is_last_looked_at


@pytest.fixture(scope="module")
def worn():
    one = season(
        4_000_010, n=190, change=Change("fixture", 0.0015, is_ramp=True, earliest=20, latest=21)
    )
    return watched(one, until=190).channels["tilt"], one.changed[1]


def test_a_worn_fixtures_excess_grows_and_a_fresh_one_takes_it_away(worn):
    tilt, fixture = worn
    job = NextJob(fixture=fixture, operator=0)
    got = excess_ahead(tilt, job, jobs=30)
    assert got.by_job.shape == (30,)
    assert (np.diff(got.by_job) > 0).all()
    assert got.now == evenness_miss(tilt, job)
    assert got.by_job[0] == pytest.approx(got.now - got.after)
    assert 0.01 < got.after < 0.06 < got.now
    assert got.by_job[29] == pytest.approx(evenness_miss(tilt, job, ahead=30) - got.after)


def tied(n, knock_mm, *, seed=5):
    """A lathe with one edge, a lathe with another, turn about; the first pair moves half-way."""
    rng = np.random.default_rng(seed)
    which = np.arange(n) % 2
    error = rng.normal(0, 0.010, n) + np.where((which == 0) & (np.arange(n) >= n // 2), knock_mm, 0)
    watch = Watch(budget=Budget())
    watch.take(jobs(n, lathe=which, edge=which, edge_jobs=np.zeros(n), height_error_mm=error))
    return watch.channels["height"]


def test_what_a_service_brings_is_weighed_by_the_chance_that_it_was_this_one():
    """Lathe and edge are as likely to be the one: a service of either rights the next job half the
    time, and the other half leaves it as it is."""
    height = tied(80, 0.060)
    job = NextJob(lathe=0, edge=0)
    asked = {"jobs": 1, "lower_mm": -0.05, "upper_mm": 0.05}
    chances = probabilities(height.state, height.arrays)
    share = {kind: chances[height.keys.index((kind, 0))] for kind in ("lathe", "edge")}
    assert share["lathe"] == pytest.approx(0.5, abs=0.15)
    quiet = height_excess_ahead(tied(80, 0.0), job, of="lathe", **asked).now
    for kind in ("lathe", "edge"):
        got = height_excess_ahead(height, job, of=kind, **asked)
        assert got.now > 0.5 > 5 * quiet
        by_hand = share[kind] * quiet + (1 - share[kind]) * got.now
        assert got.after == pytest.approx(by_hand, abs=0.06)


def test_a_worn_edge_is_best_changed_after_some_jobs():
    """An edge that wears by 0.0015 mm a job beyond the usual."""
    one = season(4_000_011, n=190, change=Change("edge", 0.0015, is_ramp=True, earliest=60))
    height, edge = watched(one, until=190).channels["height"], one.changed[1]
    lathe = int(one.jobs.lathe[np.flatnonzero(one.jobs.edge == edge)[-1]])
    job = NextJob(edge=edge, lathe=lathe, edge_jobs=30)
    asked = {"lower_mm": -0.05, "upper_mm": 0.05}
    got = height_excess_ahead(height, job, of="edge", jobs=60, **asked)
    assert got.now == height_miss(height, job, shift_mm=-float(height.state.x[0]), **asked)
    assert got.by_job[0] == pytest.approx(got.now - got.after)
    assert got.by_job[59] > got.by_job[0] > 0
    best = best_job_count(got, costs=Costs(miss=75, reindication=15))
    assert best.jobs < 60
    # Changing something else leaves the edge as worn as it is.
    assert height_excess_ahead(height, job, of="lathe", jobs=5, **asked).after > got.after
    with pytest.raises(BadInput, match="Name the gauge"):
        height_excess_ahead(height, job, of="gauge", jobs=5, **asked)


def test_bad_input_is_refused(worn):
    tilt, fixture = worn
    for costs in ((0, 1), (1, 0), (float("nan"), 1), (1, float("inf"))):
        with pytest.raises(BadInput):
            Costs(*costs)
    with pytest.raises(BadInput):
        excess_ahead(tilt, NextJob(fixture=fixture), jobs=0)
    with pytest.raises(BadInput):
        excess_ahead(tilt, NextJob(operator=0), jobs=5)
    with pytest.raises(BadInput, match="no job of fixture 123"):
        excess_ahead(tilt, NextJob(fixture=123), jobs=5)
    with pytest.raises(NotFinite):
        advise(excess([0.1, np.nan]), costs=Costs(3, 1), is_flagged=False)
    with pytest.raises(BadInput):
        best_job_count(Excess(np.zeros(0), 0.1, 0.1), costs=Costs(3, 1))
