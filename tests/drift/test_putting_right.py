"""A service of one of two that every job uses together tells them apart, as the next job shows."""

from __future__ import annotations

import numpy as np
import pytest

from qc.errors import BadInput
from qc.numerics.drift import Budget, Event, Suspect, Watch, jobs
from qc.numerics.drift.forecast import copy_of
from qc.numerics.drift.putting_right import service_trials
from qc.numerics.drift.separating import every_job, job_trials, odds_between, settles

LATHE, EDGE = Suspect("lathe", 0, 0.5), Suspect("edge", 0, 0.5)
JOBS, KNOCK_MM = 80, 0.050


@pytest.fixture
def tied():
    """A lathe with one edge, a lathe with another, turn about; the first pair moves half-way."""
    which, rng = np.arange(JOBS) % 2, np.random.default_rng(5)
    moved = (which == 0) & (np.arange(JOBS) >= JOBS // 2)
    error = rng.normal(0, 0.010, JOBS) + np.where(moved, KNOCK_MM, 0)
    watch = Watch(budget=Budget(), on_flag="hold")
    watch.take(jobs(JOBS, lathe=which, edge=which, edge_jobs=np.zeros(JOBS), height_error_mm=error))
    return watch


POSSIBLE = every_job("height", lathe=[0], edge=[0])


def test_what_no_job_tells_apart_a_service_and_a_job_do(tied):
    height = tied.channels["height"].about("edge", 0)
    [job] = job_trials(height, EDGE, LATHE, possible=POSSIBLE)
    [fresh] = service_trials(height, EDGE, LATHE, possible=POSSIBLE)
    assert job.settles < 0.02
    assert fresh.settles > 0.5
    assert (fresh.what, fresh.serviced) == ("after_service", EDGE)
    places = tuple(height.keys.index((kind, 0)) for kind in ("edge", "lathe"))
    assert fresh.settles == settles(fresh.nats, odds_between(height, places))


def test_a_knock_of_known_size_is_worth_half_its_square_in_what_a_fresh_edge_leaves_unsure(tied):
    """By hand: 0.050 mm against the edge's own usual variance and the reading's noise."""
    sure = copy_of(tied.channels["height"].about("edge", 0))
    h, n = sure.state.counts[2], sure.state.counts[0]
    lathe, edge = (sure.keys.index((kind, 0)) for kind in ("lathe", "edge"))
    held = np.isin(sure.state.who[:h], [lathe, edge])
    sure.state.mean[0, :h] = np.where(held, KNOCK_MM, 0.0)
    sure.state.cov[:, :h] = 0.0
    sure.state.response[:, :, :h] = 0.0
    sure.state.x[:n] = sure.state.p[:n, :n] = 0.0
    sure.state.since[:h] = 1
    [fresh] = service_trials(sure, EDGE, LATHE, possible=POSSIBLE)
    noise = 0.020**2 * (40 + sure.state.scale_sum[1]) / (40 + sure.state.scale_weight[1])
    unsure = sure.state.prior_var[edge] + noise
    assert fresh.nats == pytest.approx(KNOCK_MM**2 / 2 / unsure)


def test_bad_input_is_refused(tied):
    height = tied.channels["height"].about("edge", 0)
    with pytest.raises(BadInput, match="two different suspects"):
        service_trials(height, EDGE, EDGE, possible=POSSIBLE)
    with pytest.raises(BadInput, match="no job of lathe 9"):
        service_trials(height, EDGE, Suspect("lathe", 9, 0.1), possible=POSSIBLE)
    tied.take(jobs(0), events=[Event(before_job=0, kind="edge", resource=0, what="serviced")])
    with pytest.raises(BadInput, match="Nothing is held"):
        service_trials(tied.channels["height"], EDGE, LATHE, possible=POSSIBLE)
