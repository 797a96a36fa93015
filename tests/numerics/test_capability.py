"""Capability: printed examples, exactness against other functions, coverage by simulation."""

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.diagnostic import normal_ad

from qc.errors import BadInput, NotFinite, TooFewReadings
from qc.numerics.capability import (
    NotSteady,
    capability,
    capability_indices,
    cp_interval,
    cpk_interval,
    cpk_lower_bound_exact,
    cpm_interval,
    decision_risk,
    howe_factor,
    normality,
    one_sided_factor,
    share_out_of_tolerance,
    tolerance_interval,
    two_sided_factor,
    unsteady_jobs,
)
from qc.numerics.capability.report import moving_range_df

RUNS = 4000
PROCESS = {"process_mean": 0.0, "process_sd": 1.0}


def covers(intervals, truth, nominal, *, slack=0.0):
    """Whether the share of intervals that hold the truth is nominal within four standard errors."""
    held = np.mean([low <= truth <= high for low, high in intervals])
    error = math.sqrt(nominal * (1 - nominal) / len(intervals))
    print(f"coverage {held:.4f} of {nominal}, Monte Carlo error {error:.4f}")
    return abs(held - nominal) < 4 * error + slack


def test_indices_by_hand():
    # NIST/SEMATECH e-Handbook 6.1.6: limits 8 and 20, mean 16, sd 2.
    found = capability_indices(mean=16, sd=2, lower=8, upper=20, target=14)
    assert (found.cp, found.cpu, found.cpl, found.cpk) == pytest.approx((1, 2 / 3, 4 / 3, 2 / 3))
    assert found.cpm == pytest.approx(12 / (6 * math.sqrt(8)))
    one = capability_indices(mean=16, sd=2, upper=20)
    assert (one.cp, one.cpl, one.cpm) == (None, None, None)
    assert one.cpk == one.cpu


def test_intervals_cover_as_often_as_they_say():
    rng = np.random.default_rng(61)
    n, lower, upper = 20, -3.0, 4.0
    cp, cpk, bound, cpm = [], [], [], []
    for _ in range(RUNS):
        x = rng.normal(size=n)
        mean, sd = x.mean(), x.std(ddof=1)
        found = capability_indices(mean=mean, sd=sd, lower=lower, upper=upper, target=0.5)
        cp.append(cp_interval(found.cp, df=n - 1))
        cpk.append(cpk_interval(found.cpk, n=n))
        cpm.append(cpm_interval(found.cpm, n=n, mean_off_target=mean - 0.5, sd=sd))
        bound.append((cpk_lower_bound_exact(found.cpl, n=n), math.inf))
    assert covers(cp, 7 / 6, 0.95)
    assert covers(bound, 1.0, 0.95)
    # Approximations, from n = 20 on within two in a hundred.
    assert covers(cpk, 1.0, 0.95, slack=0.02)
    assert covers(cpm, 7 / (6 * math.hypot(1, 0.5)), 0.95, slack=0.02)


def test_the_exact_bound_is_noncentral_t():
    for n, cpk in [(5, 0.8), (25, 1.1), (100, 1.6)]:
        bound = cpk_lower_bound_exact(cpk, n=n, confidence=0.9)
        root = 3 * math.sqrt(n)
        assert stats.nct.cdf(cpk * root, n - 1, bound * root) == pytest.approx(0.9, abs=1e-8)


# ISO 16269-6 by way of printed tables, from memory: n, coverage, confidence, k.
ONE_SIDED = [(10, 0.95, 0.95, 2.911), (50, 0.95, 0.95, 2.065), (10, 0.99, 0.95, 3.981)]


@pytest.mark.parametrize(("n", "coverage", "confidence", "k"), ONE_SIDED)
def test_printed_one_sided_factors(n, coverage, confidence, k):
    assert one_sided_factor(n, coverage=coverage, confidence=confidence) == pytest.approx(
        k, abs=6e-4
    )


@pytest.mark.parametrize("n", [2, 5, 30])
def test_two_sided_factor_does_what_it_says(n):
    rng = np.random.default_rng(62)
    runs = 200_000
    k = two_sided_factor(n, coverage=0.9, confidence=0.8)
    mean = rng.normal(size=runs) / math.sqrt(n)
    sd = np.sqrt(rng.chisquare(n - 1, runs) / (n - 1))
    covered = stats.norm.cdf(mean + k * sd) - stats.norm.cdf(mean - k * sd)
    assert (covered >= 0.9).mean() == pytest.approx(0.8, abs=4 * math.sqrt(0.16 / runs))


def test_factors_shrink_toward_the_normal_quantile():
    many = two_sided_factor(1_000_000, coverage=0.95, confidence=0.95)
    assert many == pytest.approx(stats.norm.ppf(0.975), rel=2e-3)
    assert howe_factor(100) == pytest.approx(two_sided_factor(100), rel=1e-3)
    interval = tolerance_interval(mean=1.0, sd=0.1, n=20)
    assert interval.high - 1.0 == pytest.approx(0.1 * two_sided_factor(20))


def test_share_out_of_one_limit_is_noncentral_t():
    for n, k in [(5, 1.5), (20, 0.3), (20, 3.0)]:
        found = share_out_of_tolerance(mean=0, sd=1, n=n, upper=k)
        mirrored = share_out_of_tolerance(mean=0, sd=1, n=n, lower=-k)
        root = math.sqrt(n)
        for share, chance in zip(found.interval, (0.975, 0.025), strict=True):
            delta = -stats.norm.ppf(share) * root
            assert stats.nct.sf(k * root, n - 1, delta) == pytest.approx(chance, abs=1e-7)
        assert mirrored.interval == pytest.approx(found.interval)
        assert found.share == pytest.approx(stats.norm.sf(k))


def test_far_limits_leave_only_the_near_one():
    both = share_out_of_tolerance(mean=0, sd=1, n=20, lower=-40, upper=2)
    one = share_out_of_tolerance(mean=0, sd=1, n=20, upper=2)
    assert both.interval == pytest.approx(one.interval, rel=1e-6)
    wide = share_out_of_tolerance(mean=0, sd=1, n=500, lower=-30, upper=30)
    assert wide.interval == (0.0, 0.0)


def test_anderson_darling_agrees_with_another_program():
    rng = np.random.default_rng(64)
    for x in (rng.normal(size=12), rng.exponential(size=30), rng.uniform(size=200)):
        statistic, p = normal_ad(x)
        found = normality(x)
        assert found.statistic == pytest.approx(statistic, rel=1e-9)
        assert found.p == pytest.approx(p, rel=1e-6)


def test_normality_speaks_plainly():
    rng = np.random.default_rng(65)
    assert "Nothing in these 40 jobs" in normality(rng.normal(size=40)).sentence
    assert "does not fit" in normality(rng.exponential(size=80)).sentence
    assert "too coarse" in normality(np.round(rng.normal(0, 0.6, 80))).sentence


def test_normality_rejects_as_often_as_it_says():
    rng = np.random.default_rng(66)
    rejected = np.mean([normality(rng.normal(size=20)).p < 0.05 for _ in range(RUNS)])
    assert rejected == pytest.approx(0.05, abs=4 * math.sqrt(0.0475 / RUNS) + 0.003)


def test_moving_range_freedom_against_simulation():
    rng = np.random.default_rng(67)
    sigma = np.abs(np.diff(rng.normal(size=(40_000, 25)), axis=1)).mean(axis=1)
    variance = (sigma / sigma.mean()).var()
    assert moving_range_df(24) == pytest.approx(1 / (2 * variance), rel=0.03)


def test_a_whole_report():
    x = np.random.default_rng(68).normal(1.0, 0.02, 60)
    found = capability(x, lower=0.95, upper=1.05, target=1.0)
    assert found.is_steady
    assert found.unsteady_at == ()
    assert found.overall.cp == pytest.approx(0.1 / (6 * x.std(ddof=1)))
    assert found.short.cp == pytest.approx(
        0.1 / (6 * np.abs(np.diff(x)).mean() * math.sqrt(math.pi) / 2)
    )
    assert found.ppk_at_least < found.overall.cpk
    assert found.tolerance.low < 1.0 - 1.96 * 0.02 < 1.0 + 1.96 * 0.02 < found.tolerance.high
    assert found.normality is not None
    few = capability(x[:5], upper=1.05)
    assert few.normality is None
    assert few.cp_interval is None


def test_an_unsteady_record_is_refused_unless_told():
    rng = np.random.default_rng(69)
    x = np.concatenate([rng.normal(1.0, 0.02, 30), rng.normal(1.08, 0.02, 30)])
    with pytest.raises(NotSteady) as refused:
        capability(x, lower=0.9, upper=1.1)
    assert refused.value.code == "not_steady"
    found = capability(x, lower=0.9, upper=1.1, even_if_unsteady=True)
    assert not found.is_steady
    assert found.unsteady_at


@pytest.mark.parametrize("n", [10, 40])
def test_a_steady_record_is_seldom_refused(n):
    rng = np.random.default_rng(70)
    refused = np.mean([unsteady_jobs(rng.normal(size=n)).size > 0 for _ in range(3000)])
    assert refused < 0.05 + 4 * math.sqrt(0.0475 / 3000)


def test_decision_risk_against_simulation():
    rng = np.random.default_rng(71)
    runs = 1_000_000
    true = rng.normal(1.0, 0.02, runs)
    read = true + rng.normal(0, 0.008, runs)
    inside, accepted = (true > 0.96) & (true < 1.05), (read > 0.97) & (read < 1.04)
    found = decision_risk(
        process_mean=1.0,
        process_sd=0.02,
        u=0.008,
        lower=0.96,
        upper=1.05,
        accept_lower=0.97,
        accept_upper=1.04,
    )
    for got, seen in [
        (found.conforming, inside),
        (found.consumer, ~inside & accepted),
        (found.producer, inside & ~accepted),
    ]:
        assert got == pytest.approx(seen.mean(), abs=4 * seen.std() / math.sqrt(runs))


def test_decision_risk_of_one_limit_and_a_sharp_gauge():
    sharp = decision_risk(process_mean=0, process_sd=1, u=1e-6, upper=1.0, accept_upper=1.0)
    assert sharp.conforming == pytest.approx(stats.norm.cdf(1.0))
    # About phi(1) u / sqrt(2 pi) on either side.
    assert sharp.consumer == pytest.approx(
        stats.norm.pdf(1) * 1e-6 / math.sqrt(2 * math.pi), rel=1e-4
    )
    assert sharp.producer == pytest.approx(sharp.consumer, rel=1e-4)


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: capability_indices(mean=1, sd=0, lower=0, upper=2), BadInput),
        (lambda: capability_indices(mean=1, sd=1), BadInput),
        (lambda: capability_indices(mean=1, sd=1, lower=2, upper=2), BadInput),
        (lambda: capability_indices(mean=math.nan, sd=1, upper=2), NotFinite),
        (lambda: cp_interval(1.0, df=0), BadInput),
        (lambda: cp_interval(1.0, df=9, confidence=1.0), BadInput),
        (lambda: cpk_interval(1.0, n=1), BadInput),
        (lambda: two_sided_factor(1), BadInput),
        (lambda: two_sided_factor(5, coverage=1.0), BadInput),
        (lambda: share_out_of_tolerance(mean=0, sd=1, n=1, upper=1), BadInput),
        (lambda: capability([1.0], upper=2.0), TooFewReadings),
        (lambda: capability([1.0] * 9, upper=2.0), BadInput),
        (lambda: capability([1.0, 1.1, 0.9]), BadInput),
        (lambda: normality([1.0] * 9), BadInput),
        (lambda: normality([1.0, 2.0]), TooFewReadings),
        (
            lambda: decision_risk(process_mean=0, process_sd=1, u=0, upper=1, accept_upper=1),
            BadInput,
        ),
        (lambda: decision_risk(process_mean=0, process_sd=1, u=1, upper=1), BadInput),
    ],
)
def test_what_cannot_be_judged_is_refused(call, error):
    with pytest.raises(error):
        call()
