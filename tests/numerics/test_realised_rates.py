"""Nominal against realised false-signal rates, 1e5 runs each, the Monte Carlo error stated.

A realised rate must lie within four standard errors of the nominal one, the room below where a
factor is only nearly right being stated beside it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ndtr

from qc.numerics import patterns
from qc.numerics.charts import median_moving_range_df, width_when_estimated
from qc.numerics.charts.first_jobs import BASELINE_JOBS
from qc.numerics.charts.kept import Judging, KeptState, next_kept
from qc.numerics.constants import D4_OF_TWO
from qc.numerics.run_length import individuals_arl, rule_run_length
from tests.numerics.simulating import RUNS, agrees, simulated_rules

WEIGHT = 0.2


def spreads(x, kind):
    """Sigma of each row by this estimate, and its degrees of freedom."""
    if kind == "sd":
        return x.std(axis=1, ddof=1), x.shape[1] - 1
    ranges = np.abs(np.diff(x, axis=1))
    return np.median(ranges, axis=1) / D4_OF_TWO, median_moving_range_df(ranges.shape[1])


def rate(chances, *, nominal, room=0.0):
    """Whether the mean chance is the nominal one within `room` of it and four standard errors."""
    mean, error = chances.mean(), chances.std() / math.sqrt(chances.size)
    print(f"{chances.size} runs: {mean:.5f}, Monte Carlo error {error:.5f}, nominal {nominal:.5f}")
    return abs(mean - nominal) < room * nominal + 4 * error


@pytest.mark.parametrize(
    ("kind", "room"),
    # Exact for a standard deviation; the median moving range is only nearly a chi.
    [("sd", 0.0), ("median", 0.10)],
)
@pytest.mark.parametrize("jobs", [12, 40])
def test_later_jobs_signal_as_rarely_as_limits_known(kind, room, jobs):
    rng = np.random.default_rng(401)
    x = rng.standard_normal((RUNS, jobs))
    sigma, df = spreads(x, kind)
    half = width_when_estimated(3.0, df=df, jobs=jobs) * sigma
    centre = x.mean(axis=1)
    outside = ndtr(centre - half) + ndtr(-centre - half)
    nominal = 1 / individuals_arl(3.0)
    assert rate(outside, nominal=nominal, room=room)
    plain = ndtr(centre - 3 * sigma) + ndtr(-centre - 3 * sigma)
    assert plain.mean() > 1.25 * nominal, "without the factor they signal oftener"


@pytest.mark.parametrize("jobs", [12, 40])
def test_a_later_average_signals_as_rarely_too(jobs):
    rng = np.random.default_rng(402)
    x = rng.standard_normal((RUNS, jobs))
    sigma, df = spreads(x, "sd")
    own = math.sqrt(WEIGHT / (2 - WEIGHT))
    half = width_when_estimated(2.8, df=df, jobs=jobs, weight=WEIGHT) * sigma * own
    centre = x.mean(axis=1)
    outside = ndtr((centre - half) / own) + ndtr((-centre - half) / own)
    assert rate(outside, nominal=2 * ndtr(-2.8))


@pytest.mark.parametrize("jobs", [12, 20])
def test_a_dozen_jobs_judged_by_their_own_limits(jobs):
    """The chance that a chart marks any of the jobs that made it: over twice the nominal one with
    plain limits from a median moving range, never above it with the factor."""
    rng = np.random.default_rng(403)
    x = rng.standard_normal((RUNS, jobs))
    sigma, df = spreads(x, "median")
    off = np.abs(x - x.mean(axis=1, keepdims=True)).max(axis=1) / sigma
    nominal = 1 - (1 - 1 / individuals_arl(3.0)) ** jobs
    width = width_when_estimated(3.0, df=df, jobs=jobs, is_among=True)
    plain, mended = off > 3.0, off > width
    error = math.sqrt(nominal * (1 - nominal) / RUNS)
    print(
        f"{RUNS} runs: plain {plain.mean():.4f}, mended {mended.mean():.4f}, nominal {nominal:.4f}"
    )
    assert plain.mean() > 2 * nominal
    assert 0.3 * nominal < mended.mean() < nominal + 4 * error


JUDGING = Judging(weight=WEIGHT, width=2.8, rules=patterns.LIMITS_ONLY)
KEPT_RUNS = 4_000


def kept_after(readings):
    """The chart as it stands after these readings and one more, given last, and what it made of
    that one."""
    *before, newest = readings
    begins = (True, *[False] * (len(before) - 1))
    state = KeptState(readings=tuple(before), begins=begins)
    return next_kept(state, newest, begins=False, judging=JUDGING)


def test_a_kept_chart_that_holds_its_limits_signals_as_rarely_as_limits_known():
    rng = np.random.default_rng(406)
    single, average, plain = np.empty((3, KEPT_RUNS))
    own = math.sqrt(WEIGHT / (2 - WEIGHT))
    for run, x in enumerate(rng.standard_normal((KEPT_RUNS, BASELINE_JOBS))):
        state, _ = kept_after(x.tolist())
        _, point = next_kept(state, 0.0, begins=False, judging=JUDGING)
        half = point.width * point.sigma
        single[run] = ndtr(point.centre - half) + ndtr(-point.centre - half)
        reach = point.judged.half_width
        average[run] = ndtr((point.centre - reach) / own) + ndtr((-point.centre - reach) / own)
        half = 3 * point.sigma
        plain[run] = ndtr(point.centre - half) + ndtr(-point.centre - half)
    assert rate(single, nominal=1 / individuals_arl(3.0), room=0.10)
    assert rate(average, nominal=2 * ndtr(-2.8), room=0.10)
    assert plain.mean() > 1.25 / individuals_arl(3.0)


@pytest.mark.parametrize("jobs", [12, 20, 39])
def test_a_young_kept_chart_judges_its_newest_job_by_the_wider_limits(jobs):
    """Signals at the newest job, over all runs; the chart itself is asked where it is closest."""
    x = np.random.default_rng(407).standard_normal((RUNS, jobs))
    sigma, df = spreads(x, "median")
    off = np.abs(x[:, -1] - x.mean(axis=1)) / sigma
    width = width_when_estimated(3.0, df=df, jobs=jobs, is_among=True)
    nominal = 1 / individuals_arl(3.0)
    error = math.sqrt(nominal / RUNS)
    seen, plain = np.mean(off > width), np.mean(off > 3.0)
    print(f"{RUNS} runs: {seen:.5f}, plain {plain:.5f}, nominal {nominal:.5f}")
    assert 0.3 * nominal < seen < nominal + 4 * error
    assert plain > 1.25 * nominal
    closest = np.argsort(np.abs(off - width))[:100]
    fires = [bool(kept_after(x[run].tolist())[1].judged.fired) for run in closest]
    assert fires == (off[closest] > width).tolist()
    assert 0 < sum(fires) < 100


@pytest.mark.parametrize("name", patterns.RULE_SETS)
def test_rule_sets_signal_early_as_often_as_their_chain_says(name):
    """The share of charts that signal within 25 jobs of their start."""
    rules = patterns.RULE_SETS[name]
    z = np.random.default_rng(404).standard_normal((RUNS, 25))
    fired = np.logical_or.reduce([rule.fires(z).any(axis=1) for rule in rules])
    assert rate(fired, nominal=rule_run_length(rules).within(25))


@pytest.mark.parametrize("name", ["Western Electric", "Nelson", "ISO 7870-2"])
def test_a_rule_set_runs_as_long_as_its_chain_says(name):
    rules = patterns.RULE_SETS[name]
    length = simulated_rules(rules, rng=np.random.default_rng(405))
    run_length = rule_run_length(rules)
    assert agrees(length, run_length.arl)
    for share in (0.1, 0.5, 0.9):
        jobs = run_length.quantile(share)
        assert rate(length <= jobs, nominal=run_length.within(jobs))
