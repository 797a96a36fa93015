"""CUSUM run lengths: printed, simulated, and back from limits."""

import numpy as np
import pytest

from qc.numerics.run_length import (
    cusum_arl,
    cusum_limit,
    siegmund_arl,
)
from tests.numerics.simulating import RUNS, agrees, simulated_runs


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
