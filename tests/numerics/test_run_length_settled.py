"""Distributions of run lengths, and shifts that come after a long quiet time."""

import math

import numpy as np
import pytest

from qc.numerics.patterns import (
    LIMITS_ONLY,
    WESTERN_ELECTRIC,
)
from qc.numerics.run_length import (
    cusum_arl,
    cusum_chain,
    ewma_arl_after_settling,
    ewma_chain,
    rule_arl,
    rule_chain,
)
from tests.numerics.simulating import RUNS, agrees, simulated_runs


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
