"""EWMA and MEWMA run lengths against printed tables, each other, and simulation."""

import math

import numpy as np
import pytest

from qc.errors import BadInput, NotFinite
from qc.numerics.patterns import (
    LIMITS_ONLY,
)
from qc.numerics.run_length import (
    cusum_arl,
    cusum_limit,
    design_charts,
    ewma_arl,
    ewma_chain,
    ewma_width,
    individuals_arl,
    individuals_ewma_arl,
    individuals_ewma_widths,
    individuals_width,
    limit_for_false_flags,
    mewma_arl,
    mewma_limit,
    pace_sentence,
    rule_arl,
    rule_chain,
)
from tests.numerics.simulating import RUNS, agrees, simulated_runs

# Limits for ARL0 = 200. Lowry, Woodall, Champ & Rigdon (1992) and Prabhu & Runger (1997), from
# memory; their limits come from simulation or a coarse chain, hence 0.6 % on the run length.
PRINTED_LIMITS = [
    (2, 0.05, 7.35),
    (2, 0.10, 8.64),
    (2, 0.20, 9.65),
    (2, 0.30, 10.08),
    (2, 0.50, 10.44),
    (2, 0.80, 10.58),
    (3, 0.10, 10.79),
    (4, 0.10, 12.73),
    (10, 0.10, 22.67),
]


@pytest.mark.parametrize(("dimension", "weight", "limit"), PRINTED_LIMITS)
def test_printed_mewma_limits_run_two_hundred_jobs(dimension, weight, limit):
    assert mewma_arl(limit, weight=weight, dimension=dimension) == pytest.approx(200, rel=6e-3)
    assert mewma_limit(200, weight=weight, dimension=dimension) == pytest.approx(limit, abs=0.015)


def test_one_dimension_is_the_two_sided_ewma():
    # Two integral equations of different form: one in |w|, one in w.
    for weight, width in [(0.1, 3.0), (0.3, 2.5), (1.0, 3.0)]:
        assert mewma_arl(width**2, weight=weight, dimension=1) == pytest.approx(
            ewma_arl(width, weight=weight, steady_limits=True), rel=1e-7
        )


def test_a_weight_of_one_is_the_chart_of_single_points():
    assert ewma_arl(3.0, weight=1.0, shift=1.0) == pytest.approx(individuals_arl(3.0, shift=1.0))
    assert mewma_arl(10.0, weight=1.0, dimension=2) == pytest.approx(math.exp(5.0))
    assert individuals_arl(3.0) == pytest.approx(370.398347345)
    assert individuals_width(370.398347345) == pytest.approx(3.0)


def test_limits_give_back_the_wished_run_length():
    for arl0 in (20, 300, 5000):
        assert mewma_arl(mewma_limit(arl0, weight=0.1), weight=0.1) == pytest.approx(arl0, rel=1e-6)
        width = ewma_width(arl0, weight=0.2)
        assert ewma_arl(width, weight=0.2) == pytest.approx(arl0, rel=1e-6)


def test_limits_that_widen_from_the_start_signal_sooner():
    steady = ewma_arl(2.962, weight=0.2, shift=1.0, steady_limits=True)
    assert ewma_arl(2.962, weight=0.2, shift=1.0) < steady


@pytest.mark.parametrize(("shift", "steady"), [(0.0, False), (0.75, False), (0.75, True)])
def test_simulated_individuals_beside_ewma(shift, steady):
    rng = np.random.default_rng(20)
    weight, individuals, ewma = 0.2, 3.1, 2.9
    z = np.zeros(RUNS)

    def signals(job, alive):
        x = rng.standard_normal(alive.size) + shift
        z[alive] = weight * x + (1 - weight) * z[alive]
        share = 1 if steady else 1 - (1 - weight) ** (2 * job)
        limit = ewma * math.sqrt(weight / (2 - weight) * share)
        return (np.abs(z[alive]) > limit) | (np.abs(x) > individuals)

    arl = individuals_ewma_arl(individuals, ewma, weight=weight, shift=shift, steady_limits=steady)
    assert agrees(simulated_runs(signals), arl)


def test_simulated_mewma():
    rng = np.random.default_rng(21)
    weight, limit = 0.1, 7.0
    w = np.zeros((RUNS, 2))

    def signals(job, alive):
        w[alive] += weight * (rng.standard_normal((alive.size, 2)) - w[alive])
        return (w[alive] ** 2).sum(axis=1) * (2 - weight) / weight > limit

    assert agrees(simulated_runs(signals), mewma_arl(limit, weight=weight))


def test_two_charts_share_the_false_alarms_evenly():
    pair = individuals_ewma_widths(300, weight=0.2)
    alone = individuals_arl(pair.individuals)
    assert alone == pytest.approx(ewma_arl(pair.ewma, weight=0.2), rel=1e-6)
    assert 300 < alone < 600  # rarer than both together; twice as rare would be independence
    both = individuals_ewma_arl(pair.individuals, pair.ewma, weight=0.2)
    assert both == pytest.approx(300, rel=1e-5)


def test_a_rarer_false_flag_needs_a_wider_limit():
    yearly = limit_for_false_flags(1, 300, weight=0.1)
    assert yearly == pytest.approx(mewma_limit(300, weight=0.1))
    assert limit_for_false_flags(0.5, 300, weight=0.1) > yearly
    assert limit_for_false_flags(1, 600, weight=0.1) > yearly


def test_ewma_chain_and_collocation_agree():
    for weight, shift in [(0.05, 0.0), (0.2, 1.0), (0.8, 0.3)]:
        by_chain = ewma_chain(2.9, weight=weight, shift=shift).arl()
        by_collocation = ewma_arl(2.9, weight=weight, shift=shift, steady_limits=True)
        assert by_chain == pytest.approx(by_collocation, rel=1e-8)


@pytest.mark.parametrize(
    "call",
    [
        lambda: ewma_arl(0, weight=0.2),
        lambda: ewma_arl(3, weight=0),
        lambda: ewma_arl(3, weight=1.1),
        lambda: ewma_width(1, weight=0.2),
        lambda: individuals_arl(-1),
        lambda: mewma_arl(8, weight=0.1, dimension=0),
        lambda: mewma_limit(0.5, weight=0.1),
        lambda: limit_for_false_flags(0, 300, weight=0.1),
        lambda: limit_for_false_flags(300, 300, weight=0.1),
        lambda: pace_sentence(300, 0),
        lambda: cusum_arl(k=0.5, h=0.0),
        lambda: cusum_arl(k=0.5, h=4.0, sides=3),
        lambda: cusum_arl(k=0.5, h=4.0, settled=True),
        lambda: cusum_arl(k=0.5, h=4.0, head_start=5.0),
        lambda: cusum_limit(20, k=4.0),
        lambda: rule_arl(()),
        lambda: rule_chain(LIMITS_ONLY).quantile(1.0),
        lambda: design_charts(months_between_flags=0, jobs_per_month=5, shift=1, sigma=1),
        lambda: design_charts(months_between_flags=9, jobs_per_month=5, shift=0, sigma=1),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(BadInput):
        call()


def test_not_a_number_is_refused():
    with pytest.raises(NotFinite):
        mewma_arl(math.nan, weight=0.1)
