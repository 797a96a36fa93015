"""Trends and breaks: other programs, hand-made records, and how often a steady shop is blamed."""

import math

import numpy as np
import pytest
from scipy import stats

from qc.errors import BadInput, NotFinite, TooFewReadings
from qc.numerics.trend import (
    find_levels,
    mann_kendall,
    ols_cusum,
    recursive_cusum,
    recursive_residuals,
    sup_f,
    theil_sen,
)

RUNS = 2000


def share_error(share, runs):
    return math.sqrt(share * (1 - share) / runs)


@pytest.mark.parametrize("seed", range(8))
def test_ranks_with_ties_in_both_agree_with_scipy(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(5, 40))
    x, time = rng.integers(0, 6, n).astype(float), rng.integers(0, 8, n).astype(float)
    rank, line = mann_kendall(x, time=time), theil_sen(x, time=time)
    tau = stats.kendalltau(time, x, method="asymptotic")
    assert rank.tau_b == pytest.approx(tau.statistic, abs=1e-12)
    without_continuity = 2 * stats.norm.sf(abs(rank.s) / math.sqrt(rank.variance))
    assert without_continuity == pytest.approx(tau.pvalue, rel=1e-9)
    slope = stats.theilslopes(x, time)
    assert line.slope == pytest.approx(slope.slope, abs=1e-12)
    assert line.slope_interval == pytest.approx((slope.low_slope, slope.high_slope), abs=1e-12)


def test_a_straight_line_is_found_exactly():
    x = 2.0 + 0.5 * np.arange(12)
    assert mann_kendall(x).tau_b == 1.0
    line = theil_sen(x)
    assert (line.slope, line.intercept) == (0.5, 2.0)
    assert mann_kendall(-x).z == pytest.approx(-mann_kendall(x).z)


def test_one_stray_job_does_not_make_a_slope():
    x = 2.0 + 0.01 * np.arange(30)
    x[4] = 50.0
    assert theil_sen(x).slope == pytest.approx(0.01, abs=1e-3)


def test_a_steady_shop_is_blamed_as_seldom_as_stated():
    rng = np.random.default_rng(101)
    x = rng.normal(size=(RUNS, 25))
    blamed = np.mean([mann_kendall(row).p < 0.05 for row in x])
    slopes = np.array([theil_sen(row).slope_interval for row in x])
    held = ((slopes[:, 0] <= 0) & (slopes[:, 1] >= 0)).mean()
    assert blamed == pytest.approx(0.05, abs=4 * share_error(0.05, RUNS))
    assert held == pytest.approx(0.95, abs=4 * share_error(0.05, RUNS))


def test_equal_readings_have_no_trend_and_no_p():
    rank = mann_kendall([1.0, 1.0, 1.0])
    assert (rank.s, rank.z, rank.p, rank.tau_b) == (0, None, None, None)
    assert theil_sen([1.0, 1.0, 1.0]).slope == 0.0


def brute_force(x, breaks, shortest):
    """Least sum of squares over every way to cut."""

    def cost(part):
        return ((part - part.mean()) ** 2).sum()

    if breaks == 0:
        return cost(x)
    return min(
        cost(x[:cut]) + brute_force(x[cut:], breaks - 1, shortest)
        for cut in range(shortest, len(x) - shortest * breaks + 1)
    )


@pytest.mark.parametrize("breaks", [0, 1, 2, 3])
def test_the_best_cut_is_the_best_of_all(breaks):
    x = np.random.default_rng(102).normal(size=16)
    found = find_levels(x, trim=0.2, breaks=breaks)
    assert found.rss[breaks] == pytest.approx(brute_force(x, breaks, 3))
    edges = [0, *(b.last_before + 1 for b in found.breaks), 16]
    parts = np.split(x, edges[1:-1])
    assert found.mean.tolist() == pytest.approx([part.mean() for part in parts])
    assert sum(((p - p.mean()) ** 2).sum() for p in parts) == pytest.approx(found.rss[breaks])


def test_plain_levels_are_found_as_made():
    rng = np.random.default_rng(103)
    x = np.repeat([1.0, 1.1, 0.95], [30, 25, 40]) + rng.normal(0, 0.02, 95)
    found = find_levels(x, trim=0.1)
    assert [b.last_before for b in found.breaks] == [29, 54]
    assert found.mean.tolist() == pytest.approx([1.0, 1.1, 0.95], abs=0.015)
    assert all(b.earliest <= b.last_before <= b.latest for b in found.breaks)


def test_a_steady_record_is_seldom_cut():
    rng = np.random.default_rng(104)
    cut = np.mean([bool(find_levels(rng.normal(size=60)).breaks) for _ in range(400)])
    # BIC counts the place of a break as a parameter; it cuts about one steady record in ten here.
    assert cut < 0.15


@pytest.mark.parametrize(("sd_after", "step"), [(1.0, 1.5), (2.5, 2.5), (0.4, 1.2)])
def test_break_intervals_cover(sd_after, step):
    rng = np.random.default_rng(105)
    held, runs = 0, 600
    for _ in range(runs):
        x = rng.normal(size=80)
        x[40:] = step + sd_after * x[40:]
        only = find_levels(x, breaks=1).breaks[0]
        held += only.earliest <= 39 <= only.latest
    print(f"{held / runs:.3f} of 0.95, Monte Carlo error {share_error(0.95, runs):.3f}")
    assert held / runs > 0.95 - 0.03 - 3 * share_error(0.95, runs)


def test_levels_without_spread_have_no_interval():
    only = find_levels([1.0] * 5 + [2.0] * 5).breaks[0]
    assert (only.last_before, only.earliest, only.latest) == (4, None, None)
    assert sup_f([1.0] * 5 + [2.0] * 5).f == math.inf
    assert sup_f([1.0] * 10).f == 0.0


def test_sup_f_is_the_f_of_the_best_single_break():
    x = np.random.default_rng(106).normal(size=40)
    found, levels = sup_f(x), find_levels(x, breaks=1)
    assert found.last_before == levels.breaks[0].last_before
    gain = levels.rss[0] - levels.rss[1]
    assert found.f == pytest.approx(gain / (levels.rss[1] / 38))


def test_recursive_residuals_by_hand():
    w = recursive_residuals([1.0, 3.0, 5.0])
    assert w.tolist() == pytest.approx([2 / math.sqrt(2), 3 / math.sqrt(1.5)])


@pytest.mark.parametrize("test", [ols_cusum, recursive_cusum])
def test_a_steady_shop_seldom_leaves_the_band(test):
    rng = np.random.default_rng(107)
    blamed = np.mean([test(rng.normal(size=100)).p < 0.05 for _ in range(RUNS)])
    # Both limits are for long records; at a hundred jobs they are a little too wide.
    assert 0.015 < blamed < 0.05 + 4 * share_error(0.05, RUNS)


@pytest.mark.parametrize("test", [ols_cusum, recursive_cusum])
def test_a_change_of_level_leaves_the_band(test):
    rng = np.random.default_rng(108)
    x = rng.normal(size=100)
    x[50:] += 2.0
    assert test(x).p < 0.05
    assert test(3 * x - 7).statistic == pytest.approx(test(x).statistic)


def test_the_sum_of_residuals_peaks_at_the_change():
    x = np.repeat([0.0, 1.0], 50) + np.random.default_rng(109).normal(0, 0.1, 100)
    assert ols_cusum(x).at == 49
    assert ols_cusum(x).process[-1] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: mann_kendall([1.0]), TooFewReadings),
        (lambda: mann_kendall([1.0, np.inf]), NotFinite),
        (lambda: mann_kendall([1.0, 2.0], time=[1.0]), BadInput),
        (lambda: theil_sen([1.0, 2.0], time=[3.0, 3.0]), BadInput),
        (lambda: find_levels([1.0, 2.0, 3.0]), TooFewReadings),
        (lambda: find_levels(np.arange(20.0), breaks=10), BadInput),
        (lambda: find_levels(np.arange(20.0), breaks=-1), BadInput),
        (lambda: find_levels(np.arange(20.0), trim=0.6), BadInput),
        (lambda: ols_cusum([1.0, 1.0, 1.0]), BadInput),
        (lambda: recursive_cusum([1.0, 1.0]), TooFewReadings),
    ],
)
def test_what_shows_no_change_or_none_at_all_is_refused(call, error):
    with pytest.raises(error):
        call()
