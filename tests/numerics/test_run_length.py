"""Run lengths against published tables, against each other, and against simulation."""

import math

import numpy as np
import pytest

from qc.errors import BadInput, NotFinite
from qc.numerics.patterns import (
    ISO_7870_2,
    LIMITS_ONLY,
    NELSON,
    WESTERN_ELECTRIC,
    ZoneRule,
    find_patterns,
)
from qc.numerics.run_length import (
    cusum_arl,
    cusum_chain,
    cusum_limit,
    design_charts,
    ewma_arl,
    ewma_arl_after_settling,
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
    rule_set_arl,
    siegmund_arl,
    simulated_arl,
)

RUNS = 100_000


def simulated_runs(signals, *, runs=RUNS, jobs=20_000):
    """Run lengths of `runs` charts; signals(job) gives this job's signal for charts still open."""
    length = np.zeros(runs)
    alive = np.arange(runs)
    for job in range(1, jobs):
        fired = signals(job, alive)
        length[alive[fired]] = job
        alive = alive[~fired]
        if alive.size == 0:
            return length
    raise AssertionError("a run outlasted the simulation")


def agrees(length, arl):
    """Within four standard errors of the simulated mean."""
    return abs(length.mean() - arl) < 4 * length.std() / math.sqrt(length.size)


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


# Champ & Woodall (1987), in-control run length of zone rules; from memory.
@pytest.mark.parametrize(
    ("rules", "printed"),
    [
        (LIMITS_ONLY, 370.40),
        (WESTERN_ELECTRIC[:2], 225.44),
        (WESTERN_ELECTRIC[:3], 132.89),
        (WESTERN_ELECTRIC, 91.75),
    ],
)
def test_printed_run_lengths_of_zone_rules(rules, printed):
    assert rule_arl(rules) == pytest.approx(printed, abs=5e-3)


@pytest.mark.parametrize("shift", [0.0, 0.8])
def test_zone_rules_of_any_kind_agree_with_simulation(shift):
    rules = (
        ZoneRule("3 of 4 beyond 1.2", 3, 4, low=1.2),
        ZoneRule("6 in a row within 0.8", 6, 6, high=0.8, one_side=False),
        ZoneRule(
            "2 of 3 between 1.5 and 2.5, either side", 2, 3, low=1.5, high=2.5, one_side=False
        ),
    )
    seen = simulated_arl(rules, rng=np.random.default_rng(22), shift=shift, runs=RUNS)
    assert seen.arl == pytest.approx(rule_arl(rules, shift=shift), abs=4 * seen.standard_error)


def test_simulated_runs_begin_afresh():
    # Two rules, one long sequence a run, against reading each run by itself.
    rng = np.random.default_rng(23)
    alone = np.array(
        [find_patterns(rng.standard_normal(900), rules=NELSON).first() + 1 for _ in range(2000)]
    )
    seen = simulated_arl(NELSON, rng=np.random.default_rng(24))
    error = math.hypot(seen.standard_error, alone.std() / math.sqrt(alone.size))
    assert seen.arl == pytest.approx(alone.mean(), abs=4 * error)


def test_rule_sets_are_exact_where_zones_suffice():
    rng = np.random.default_rng(25)
    assert rule_set_arl(WESTERN_ELECTRIC, rng=rng).standard_error == 0.0
    iso = rule_set_arl(ISO_7870_2, rng=rng)
    assert 0 < iso.standard_error < 1.0
    # Fewer rules signal later.
    assert iso.arl < rule_arl(ISO_7870_2[:2])


def test_the_distribution_of_single_points_is_geometric():
    chain = rule_chain(LIMITS_ONLY)
    p = 1 / individuals_arl(3.0)
    assert chain.sd() == pytest.approx(math.sqrt(1 - p) / p)
    survival = chain.survival()
    assert [next(survival) for _ in range(4)] == pytest.approx([(1 - p) ** n for n in range(4)])
    for share in (0.01, 0.5, 0.99):
        assert chain.quantile(share) == math.ceil(math.log(1 - share) / math.log(1 - p))


@pytest.mark.parametrize(
    "chain",
    [
        rule_chain(WESTERN_ELECTRIC, shift=0.5),
        ewma_chain(2.7, weight=0.1, shift=0.5),
        cusum_chain(k=0.5, h=4.0, shift=0.5, head_start=2.0),
    ],
    ids=["zone rules", "EWMA", "CUSUM"],
)
def test_moments_and_quantiles_follow_from_the_distribution(chain):
    left = [left for left, _ in zip(chain.survival(), range(3000), strict=False)]
    assert sum(left) == pytest.approx(chain.arl(), rel=1e-9)
    second = 2 * sum(n * s for n, s in enumerate(left)) + sum(left)
    assert math.sqrt(second - sum(left) ** 2) == pytest.approx(chain.sd(), rel=1e-9)
    for share in (0.1, 0.5, 0.9, 0.999):
        by_hand = next(n for n, s in enumerate(left) if s <= 1 - share)
        assert chain.quantile(share) == by_hand


def test_a_very_rare_signal_has_quantiles_too():
    chain = cusum_chain(k=0.5, h=12.0)
    assert chain.arl() > 1e6
    assert chain.quantile(0.5) == pytest.approx(math.log(2) * chain.arl(), rel=1e-4)


def test_ewma_chain_and_collocation_agree():
    for weight, shift in [(0.05, 0.0), (0.2, 1.0), (0.8, 0.3)]:
        by_chain = ewma_chain(2.9, weight=weight, shift=shift).arl()
        by_collocation = ewma_arl(2.9, weight=weight, shift=shift, steady_limits=True)
        assert by_chain == pytest.approx(by_collocation, rel=1e-8)


# Brook & Evans (1972): k = 0.5, h = 3, one side: 117.59 in control, 3.75 at 1.5 sigma; from memory.
def test_printed_cusum_run_lengths():
    assert cusum_arl(k=0.5, h=3.0, sides=1) == pytest.approx(117.59, abs=0.01)
    assert cusum_arl(k=0.5, h=3.0, sides=1, shift=1.5) == pytest.approx(3.75, abs=0.01)


@pytest.mark.parametrize(("shift", "head"), [(0.0, 0.0), (0.5, 0.0), (0.5, 2.0), (-0.5, 2.0)])
def test_simulated_two_sided_cusum(shift, head):
    rng = np.random.default_rng(26)
    high, low = np.full(RUNS, head), np.full(RUNS, head)

    def signals(job, alive):
        x = rng.standard_normal(alive.size) + shift
        high[alive] = np.maximum(0.0, high[alive] + x - 0.5)
        low[alive] = np.maximum(0.0, low[alive] - x - 0.5)
        return (high[alive] > 3.5) | (low[alive] > 3.5)

    arl = cusum_arl(k=0.5, h=3.5, shift=shift, head_start=head)
    assert agrees(simulated_runs(signals), arl)


def settled_runs(step, signal, *, warm=200, shift):
    """Run lengths after a shift of charts that have run `warm` jobs in control without a signal.

    step(place, x) moves every chart; signal(place) marks those beyond. Charts that signal while
    warming are dropped: what is left stands as a settled chart does.
    """
    rng = np.random.default_rng(27)
    place = np.zeros(4 * RUNS)
    for _ in range(warm):
        place = step(place, rng.standard_normal(place.size))
        place = place[~signal(place)]
    runs = {"place": place}

    def signals(job, alive):
        runs["place"] = step(runs["place"], rng.standard_normal(alive.size) + shift)
        fired = signal(runs["place"])
        runs["place"] = runs["place"][~fired]
        return fired

    return simulated_runs(signals, runs=place.size)


def test_simulated_shift_after_a_long_time_ewma():
    weight, width = 0.1, 2.7
    limit = width * math.sqrt(weight / (2 - weight))
    length = settled_runs(
        lambda z, x: (1 - weight) * z + weight * x, lambda z: np.abs(z) > limit, shift=1.0
    )
    assert agrees(length, ewma_arl_after_settling(width, weight=weight, shift=1.0))


def test_simulated_shift_after_a_long_time_cusum():
    length = settled_runs(lambda c, x: np.maximum(0.0, c + x - 0.5), lambda c: c > 4.0, shift=1.0)
    arl = cusum_arl(k=0.5, h=4.0, sides=1, shift=1.0, settled=True)
    assert agrees(length, arl)
    assert arl < cusum_arl(k=0.5, h=4.0, sides=1, shift=1.0)


def test_a_settled_shewhart_chart_is_a_fresh_one():
    fresh = rule_arl(LIMITS_ONLY, shift=1.0)
    assert rule_arl(LIMITS_ONLY, shift=1.0, settled=True) == pytest.approx(fresh)
    # With memory, the points before the shift help the rules along.
    assert rule_arl(WESTERN_ELECTRIC, shift=1.0, settled=True) < rule_arl(
        WESTERN_ELECTRIC, shift=1.0
    )


def test_cusum_limits_give_back_the_wished_run_length():
    for sides, share in [(1, 0.0), (2, 0.0), (2, 0.5)]:
        h = cusum_limit(300, k=0.5, sides=sides, head_start_share=share)
        arl = cusum_arl(k=0.5, h=h, sides=sides, head_start=share * h)
        assert arl == pytest.approx(300, rel=1e-6)


def test_siegmund_is_near_the_exact_run_length():
    for shift in (0.0, 0.5, 1.0):
        exact = cusum_arl(k=0.5, h=5.0, sides=1, shift=shift)
        assert siegmund_arl(k=0.5, h=5.0, shift=shift) == pytest.approx(exact, rel=0.01)
    # Where the drift vanishes the two branches meet.
    assert siegmund_arl(k=0.5, h=5.0, shift=0.5 + 1e-5) == pytest.approx(6.166**2, rel=1e-3)


def test_designs_keep_their_promise_and_the_quickest_comes_first():
    designs = design_charts(months_between_flags=12, jobs_per_month=25, shift=0.02, sigma=0.02)
    by_name = {design.chart: design for design in designs}
    assert [d.jobs_to_find for d in designs] == sorted(d.jobs_to_find for d in designs)
    single, slow = by_name["individuals"], by_name["ewma"]
    assert individuals_arl(single.individuals) == pytest.approx(300)
    assert ewma_arl(slow.ewma, weight=slow.weight) == pytest.approx(300, rel=1e-5)
    both, sums = by_name["individuals and ewma"], by_name["cusum"]
    pair = individuals_ewma_arl(both.individuals, both.ewma, weight=both.weight)
    assert pair == pytest.approx(300, rel=1e-5)
    assert cusum_arl(k=sums.k, h=sums.h) == pytest.approx(300, rel=1e-5)
    # One sigma: a fourth of the jobs single points need.
    assert slow.jobs_to_find < single.jobs_to_find / 3


def test_a_large_shift_is_found_by_single_points_as_soon_as_by_any():
    designs = design_charts(months_between_flags=12, jobs_per_month=25, shift=4.0, sigma=1.0)
    by_name = {design.chart: design for design in designs}
    assert by_name["individuals"].jobs_to_find < 1.25
    assert designs[0].jobs_to_find > 0.9 * by_name["individuals"].jobs_to_find


@pytest.mark.parametrize(
    ("jobs", "per_month", "sentence"),
    [
        (350, 25, "about once in 14 months at this pace"),
        (25, 25, "about once a month at this pace"),
        (370.4, 5, "about once in 6 years at this pace"),
        (10, 40, "about 4 times a month at this pace"),
        (29, 40, "about once a month at this pace"),
    ],
)
def test_pace_is_said_in_plain_words(jobs, per_month, sentence):
    assert pace_sentence(jobs, per_month) == sentence


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
        lambda: rule_arl(NELSON),
        lambda: rule_arl(()),
        lambda: rule_chain(LIMITS_ONLY).quantile(1.0),
        lambda: simulated_arl((), rng=np.random.default_rng(0)),
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
