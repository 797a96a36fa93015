"""Whole run-length distributions against charts run by simulation, 1e5 at once."""

from __future__ import annotations

import math

import numpy as np
import pytest

from qc.errors import BadInput
from qc.numerics.run_length import (
    RunLength,
    cusum_outlook,
    ewma_arl,
    ewma_arl_after_settling,
    ewma_outlook,
    individuals_ewma_arl,
    individuals_outlook,
)
from tests.numerics.simulating import RUNS, agrees, simulated_runs

SHIFT = 1.0
QUIET = 60  # jobs in control before the late shift; a chart has settled long before


def shares_agree(length, run_length, jobs):
    """Shares signalled within so many jobs, each within four standard errors of what is said."""
    ends = np.array([run_length.within(n) for n in jobs])
    seen = np.array([(length <= n).mean() for n in jobs])
    error = np.sqrt(ends * (1 - ends) / length.size)
    print(f"{length.size} runs: {seen}, Monte Carlo errors {error}, worked out {ends}")
    return bool((np.abs(seen - ends) < 4 * error + 1e-6).all())


def ewma_runs(rng, *, individuals, width, weight, shift, quiet=0):
    """Run lengths from the first job, or from a shift after `quiet` jobs without a signal."""
    last = width * math.sqrt(weight / (2 - weight))
    z = np.zeros(4 * RUNS if quiet else RUNS)
    for _ in range(quiet):
        x = rng.standard_normal(z.size)
        z = weight * x + (1 - weight) * z
        z = z[(np.abs(x) <= individuals) & (np.abs(z) <= last)]

    def signals(job, alive):
        x = rng.standard_normal(alive.size) + shift
        z[alive] = weight * x + (1 - weight) * z[alive]
        limit = last if quiet else last * math.sqrt(1 - (1 - weight) ** (2 * job))
        return (np.abs(x) > individuals) | (np.abs(z[alive]) > limit)

    return simulated_runs(signals, runs=z.size)


def cusum_runs(rng, *, k, h, head_start, shift, quiet=0):
    up = np.full(4 * RUNS if quiet else RUNS, head_start)
    down = up.copy()
    for _ in range(quiet):
        x = rng.standard_normal(up.size)
        up, down = np.maximum(0, up + x - k), np.maximum(0, down - x - k)
        quiet_still = (up <= h) & (down <= h)
        up, down = up[quiet_still], down[quiet_still]

    def signals(job, alive):
        x = rng.standard_normal(alive.size) + shift
        up[alive] = np.maximum(0, up[alive] + x - k)
        down[alive] = np.maximum(0, down[alive] - x - k)
        return (up[alive] > h) | (down[alive] > h)

    return simulated_runs(signals, runs=up.size)


@pytest.mark.parametrize("shift", [0.0, SHIFT])
def test_a_fresh_pair_of_charts(shift):
    rng = np.random.default_rng(301)
    limits = {"individuals": 2.7, "weight": 0.2}
    outlook = ewma_outlook(2.4, shift=SHIFT, **limits)
    told = outlook.at_start if shift else outlook.false
    length = ewma_runs(rng, width=2.4, shift=shift, **limits)
    assert agrees(length, told.arl)
    assert shares_agree(length, told, (1, 2, 5, 20, 60))
    exact = individuals_ewma_arl(2.7, 2.4, weight=0.2, shift=shift)
    assert told.arl == pytest.approx(exact, rel=1e-8)


def test_a_settled_pair_of_charts():
    rng = np.random.default_rng(302)
    limits = {"individuals": 3.0, "weight": 0.2}
    told = ewma_outlook(2.8, shift=SHIFT, **limits).later
    length = ewma_runs(rng, width=2.8, shift=SHIFT, quiet=QUIET, **limits)
    assert agrees(length, told.arl)
    assert shares_agree(length, told, (1, 3, 8, 20))


def test_an_ewma_alone_is_as_its_own_integral_equation_has_it():
    outlook = ewma_outlook(2.6, weight=0.1, shift=0.7)
    assert outlook.false.arl == pytest.approx(ewma_arl(2.6, weight=0.1), rel=1e-8)
    settled = ewma_arl_after_settling(2.6, weight=0.1, shift=0.7)
    assert outlook.later.arl == pytest.approx(settled, rel=1e-7)


@pytest.mark.parametrize("head_start", [0.0, 1.5])
@pytest.mark.parametrize("shift", [0.0, SHIFT])
def test_a_fresh_cusum_of_two_sides(head_start, shift):
    rng = np.random.default_rng(303)
    limits = {"k": 0.5, "h": 3.0, "head_start": head_start}
    outlook = cusum_outlook(shift=SHIFT, **limits)
    told = outlook.at_start if shift else outlook.false
    length = cusum_runs(rng, shift=shift, **limits)
    assert agrees(length, told.arl)
    assert shares_agree(length, told, (1, 2, 5, 20, 60))


def test_a_settled_cusum_of_two_sides():
    """The side toward the shift stands for both: too late by under one run in a hundred."""
    rng = np.random.default_rng(304)
    told = cusum_outlook(k=0.5, h=4.0, shift=SHIFT).later
    length = cusum_runs(rng, k=0.5, h=4.0, head_start=0.0, shift=SHIFT, quiet=QUIET)
    error = length.std() / math.sqrt(length.size)
    print(f"{length.size} runs: {length.mean():.3f}, Monte Carlo error {error:.3f}")
    assert told.arl == pytest.approx(length.mean(), rel=0.01)
    assert np.abs([told.within(n) - (length <= n).mean() for n in (1, 4, 8, 20)]).max() < 0.01


def test_single_points_run_geometrically():
    """1 - p^n by hand: p = 0.0027 outside 3 sigma, median ln 2 / 0.0027 = 257 jobs."""
    told = individuals_outlook(3.0, shift=0.0).false
    p = math.erfc(3 / math.sqrt(2))
    assert told.arl == pytest.approx(1 / p)
    assert told.within(5000) == pytest.approx(1 - (1 - p) ** 5000)
    assert told.quantile(0.5) == math.ceil(math.log(0.5) / math.log1p(-p))
    assert told.quantile(0.999) == math.ceil(math.log(0.001) / math.log1p(-p))


def test_a_share_is_between_none_and_all():
    for share in (0.0, 1.0):
        with pytest.raises(BadInput):
            RunLength(2.0, np.array([1.0, 0.5])).quantile(share)
