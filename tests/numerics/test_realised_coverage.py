"""Nominal against realised coverage of every interval a page shows, 1e5 samples each.

The Monte Carlo standard error of a coverage is sqrt(c (1 - c) / 1e5), 0.0007 at 95 %. An exact
interval must lie within four of them. Where an interval is only nearly right, the bounds that are
asserted say how nearly.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator
from scipy.special import ndtr, ndtri

from qc.numerics.capability import cp_interval, cpk_lower_bound_exact, two_sided_factor
from qc.numerics.capability.share import _Standing, share_out_of_tolerance
from qc.numerics.trend import find_levels, mann_kendall, theil_sen
from qc.numerics.trend.argmax import argmax_quantile
from tests.numerics.simulating import RUNS

NOMINAL = 0.95
ERROR = math.sqrt(NOMINAL * (1 - NOMINAL) / RUNS)


def coverage(held):
    print(f"{held.size} runs: {held.mean():.4f}, Monte Carlo error {ERROR:.4f}, nominal {NOMINAL}")
    return held.mean()


def is_exact(held):
    return abs(coverage(held) - NOMINAL) < 4 * ERROR


def means_and_sds(rng, n):
    return rng.standard_normal(RUNS) / math.sqrt(n), np.sqrt(rng.chisquare(n - 1, RUNS) / (n - 1))


@pytest.mark.parametrize("n", [12, 50])
def test_cp(n):
    """Limits at -+ 4 true sd, so that Cp is 4/3; the interval scales with the estimate."""
    _, sd = means_and_sds(np.random.default_rng(501), n)
    low, high = cp_interval(1.0, df=n - 1)
    seen = 4 / (3 * sd)
    assert is_exact((seen * low <= 4 / 3) & (seen * high >= 4 / 3))


@pytest.mark.parametrize(("n", "room"), [(12, 0.012), (50, 0.005)])
def test_cpk_by_bissell_is_nearly_right(n, room):
    """One limit 4 true sd away; the normal approximation loses up to a per cent at a dozen jobs."""
    mean, sd = means_and_sds(np.random.default_rng(502), n)
    seen = (4 - mean) / (3 * sd)
    half = ndtri(0.975) * np.sqrt(1 / (9 * n) + seen**2 / (2 * (n - 1)))
    assert abs(coverage(np.abs(seen - 4 / 3) <= half) - NOMINAL) < room + 4 * ERROR


@pytest.mark.parametrize("n", [12, 50])
def test_what_ppk_is_at_least(n):
    """The bound rises with the estimate: it holds the truth below the estimate that gives it."""
    mean, sd = means_and_sds(np.random.default_rng(503), n)
    seen = (4 - mean) / (3 * sd)
    places = np.linspace(0.3, 6.0, 400)
    bounds = [cpk_lower_bound_exact(one, n=n) for one in places]
    limit = np.interp(4 / 3, bounds, places)
    assert is_exact(seen <= limit)


@pytest.mark.parametrize("n", [12, 50])
def test_a_tolerance_interval_holds_its_share(n):
    mean, sd = means_and_sds(np.random.default_rng(504), n)
    half = two_sided_factor(n) * sd
    assert is_exact(ndtr(mean + half) - ndtr(mean - half) >= 0.95)


@pytest.mark.parametrize("n", [12, 50])
def test_the_share_beyond_one_limit(n):
    """Both ends fall as the limit, in sd from the mean, goes out: each is met at one place."""
    mean, sd = means_and_sds(np.random.default_rng(505), n)
    true, seen = float(ndtr(-2.0)), (2.0 - mean) / sd
    places = np.linspace(0.2, 7.0, 300)
    ends = [share_out_of_tolerance(mean=0, sd=1, n=n, upper=one).interval for one in places]
    far, near = (
        np.interp(-math.log(true), [-math.log(max(e, 1e-300)) for e in side], places)
        for side in zip(*ends, strict=True)
    )
    assert is_exact((seen >= far) & (seen <= near))


@pytest.mark.parametrize(("n", "limit", "off"), [(10, 1.5, 0.0), (30, 2.0, 0.3)])
def test_the_share_beyond_two_limits_is_held_at_least_as_often_as_said(n, limit, off):
    """Off by `off` true sd between limits -+ `limit`. Never under, and over by two per cent at
    the most. The confidence is read from a table over the samples' means and sds, which its
    smoothness allows."""
    mean, sd = means_and_sds(np.random.default_rng(506), n)
    mean = mean + off
    true = float(ndtr(off - limit) + ndtr(-off - limit))
    told = table(lambda one: one.at_most(true), n, limit, mean, sd, places=40)
    least = table(lambda one: one.least_at_most(0.025), n, limit, mean, sd, places=5)
    held = coverage((told >= least) & (told <= 0.975))
    assert NOMINAL - 4 * ERROR < held < NOMINAL + 0.02


def table(what, n, limit, mean, sd, *, places):
    axes = np.linspace(sd.min(), sd.max(), places), np.linspace(mean.min(), mean.max(), places)
    values = [
        [what(_Standing(n, (-limit - m) / s, (limit - m) / s)) for m in axes[1]] for s in axes[0]
    ]
    return RegularGridInterpolator(axes, np.array(values))(np.column_stack([sd, mean]))


def test_theil_sens_slope_and_mann_kendalls_false_alarms():
    """A dozen jobs a sample, without a trend."""
    x = np.random.default_rng(507).standard_normal((RUNS, 12))
    first, last = np.triu_indices(12, 1)
    slopes = np.sort((x[:, last] - x[:, first]) / (last - first), axis=1)
    half = ndtri(0.975) * math.sqrt(12 * 11 * 29 / 18)
    low, high = round((66 - half) / 2) - 1, round((66 + half) / 2)
    one = theil_sen(x[0])
    assert one.slope_interval == pytest.approx((slopes[0, low], slopes[0, high]))
    # Sen's ranks are rounded outward by as much as one: a little over, never under.
    held = coverage((slopes[:, low] <= 0) & (slopes[:, high] >= 0))
    assert NOMINAL - 4 * ERROR < held < NOMINAL + 0.02
    s = np.sign(x[:, last] - x[:, first]).sum(axis=1)
    assert mann_kendall(x[0]).s == s[0]
    z = (np.abs(s) - 1) / math.sqrt(12 * 11 * 29 / 18)
    # S moves in steps of two, so that no level is met exactly.
    assert NOMINAL - 0.005 < coverage(z <= ndtri(0.975)) < NOMINAL + 0.01


@pytest.mark.parametrize(
    ("shift", "by_step", "by_likelihood"),
    [(1.0, (0.88, 0.90), (0.95, 0.98)), (2.0, (0.95, 0.98), (0.95, 0.99))],
)
def test_a_break_is_where_its_interval_says(shift, by_step, by_likelihood):
    """60 jobs, the level moving after the 30th, equal spreads. Both intervals count whole jobs and
    are wider for it; Bai's takes the step found, on average too large a one, for the true one."""
    x = np.random.default_rng(508).standard_normal((RUNS, 60))
    x[:, 30:] += shift
    last = np.arange(9, 60 - 9 + 1) - 1
    count = last + 1.0
    total = np.cumsum(x - x.mean(axis=1, keepdims=True), axis=1)[:, last]
    gained = total**2 * 60 / (count * (60 - count))
    best, row = np.argmax(gained, axis=1), np.arange(RUNS)
    likely = likely_places(x, gained, last)
    found = last[best]
    step = bais_places(x, found, total[row, best])
    for sample in range(20):
        [one] = find_levels(x[sample], breaks=1).breaks
        assert one.last_before == found[sample]
        assert abs(one.earliest - step[0][sample]) <= 1  # the table of quantiles is interpolated
        assert abs(one.latest - step[1][sample]) <= 1
        [one] = find_levels(x[sample], breaks=1, interval="likelihood").breaks
        assert (one.earliest, one.latest) == (likely[0][sample], likely[1][sample])
    for (earliest, latest), (least, most) in ((step, by_step), (likely, by_likelihood)):
        held = coverage((earliest <= 29) & (latest >= 29))
        assert least - 4 * ERROR < held < most + 4 * ERROR


def likely_places(x, gained, last):
    """What find_levels(interval="likelihood") gives, for every row at once."""
    rss = ((x - x.mean(axis=1, keepdims=True)) ** 2).sum(axis=1) - gained.max(axis=1)
    bound = -2 * math.log(1 - math.sqrt(NOMINAL)) * rss / 58
    fits = gained.max(axis=1, keepdims=True) - gained <= bound[:, None]
    return last[fits.argmax(axis=1)], last[last.size - 1 - fits[:, ::-1].argmax(axis=1)]


def bais_places(x, found, total):
    """What find_levels gives, for every row at once. total: of the jobs before, off the mean."""
    count, n = found + 1.0, 60
    before, after = total / count, -total / (n - count)
    off2 = np.cumsum((x - x.mean(axis=1, keepdims=True)) ** 2, axis=1)
    here = off2[np.arange(RUNS), found]
    var_before = here / count - before**2
    var_after = (off2[:, -1] - here) / (n - count) - after**2
    ratio, scale = var_after / var_before, var_before / (after - before) ** 2
    places = np.linspace(np.log(ratio.min()), np.log(ratio.max()), 60)
    high, low = (
        np.interp(np.log(ratio), places, [argmax_quantile(q, math.exp(p)) for p in places])
        for q in (0.975, 0.025)
    )
    earliest = np.maximum(0, found - np.ceil(high * scale))
    return earliest, np.minimum(n - 1, found - np.floor(low * scale))
