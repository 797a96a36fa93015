"""Self-starting charts: standard normal from the first value on, and quick on a shift."""

import math

import numpy as np
import pytest
from scipy import stats

from qc.errors import BadInput, NotFinite, TooFewReadings
from qc.numerics.self_starting import q_dispersion, q_statistics, self_starting_cusum

RUNS = 20_000
KNOWN = [{}, {"sigma": 2.0}, {"mean": 5.0}, {"mean": 5.0, "sigma": 2.0}]


def test_q_by_hand():
    # r = 3: mean 1, s = sqrt 2, (4 - 1) sqrt(2/3) / sqrt 2 = sqrt 3; T with one degree is Cauchy.
    q = q_statistics([0.0, 2.0, 4.0])
    share = 0.5 + math.atan(math.sqrt(3)) / math.pi
    assert np.isnan(q[:2]).all()
    assert q[2] == pytest.approx(stats.norm.ppf(share))
    known = q_statistics([0.0, 2.0, 4.0], sigma=3.0)
    assert known[1:].tolist() == pytest.approx([math.sqrt(1 / 2) * 2 / 3, math.sqrt(2 / 3)])


@pytest.mark.parametrize("known", KNOWN)
def test_q_is_standard_normal_and_independent_in_control(known):
    rng = np.random.default_rng(51)
    q = np.array([q_statistics(rng.normal(5, 2, 8), **known) for _ in range(RUNS)])
    q = q[:, ~np.isnan(q).all(axis=0)]
    assert q.shape[1] == {0: 6, 1: 7, 2: 8}[len(known)]
    assert np.abs(q.mean(axis=0)).max() < 4.5 / math.sqrt(RUNS)
    assert np.abs(q.T @ q / RUNS - np.eye(q.shape[1])).max() < 4.5 * math.sqrt(2 / RUNS)
    # Kolmogorov's 0.1 % point over all values together.
    assert stats.kstest(q.ravel(), "norm").statistic < 1.95 / math.sqrt(q.size)


def test_dispersion_q_is_standard_normal_in_control():
    rng = np.random.default_rng(52)
    q = np.array([q_dispersion(rng.normal(5, 2, 12)) for _ in range(RUNS)])[:, 1:]
    assert np.abs(q.T @ q / RUNS - np.eye(5)).max() < 4.5 * math.sqrt(2 / RUNS)
    assert stats.kstest(q.ravel(), "norm").statistic < 1.95 / math.sqrt(q.size)


def test_a_wider_spread_raises_dispersion_q():
    rng = np.random.default_rng(53)
    x = np.concatenate([rng.normal(0, 1, 40), rng.normal(0, 4, 20)])
    q = q_dispersion(x)
    assert q[20:].mean() > 1.0
    assert q_dispersion([1.0, 2.0, 3.0]).shape == (1,)


@pytest.mark.parametrize("known", KNOWN[:1])
def test_shift_and_scale_do_not_matter(known):
    x = np.random.default_rng(54).normal(size=15)
    np.testing.assert_allclose(q_statistics(3 * x + 7), q_statistics(x), rtol=1e-8)
    np.testing.assert_allclose(q_statistics(-x), -q_statistics(x), rtol=1e-12)


def test_far_out_is_large_but_never_infinite():
    q = q_statistics([0.1, 0.3, 0.2] * 20 + [1e9, -1e9])
    assert np.isfinite(q[2:]).all()
    assert q[60] > 30


def test_equal_readings_leave_q_undefined_until_one_differs():
    q = q_statistics([0.1] * 5 + [0.3, 0.2])
    assert np.isnan(q[:6]).all()
    assert np.isfinite(q[6])
    assert np.isnan(q_statistics([0.1, 0.1, 0.3], mean=0.1)).all()
    assert np.isnan(q_dispersion([1.0, 1.0, 1.0, 2.0])).all()


def test_cusum_holds_while_q_is_undefined():
    chart = self_starting_cusum([1.0, 1.0, 1.2], head_start=2.0).chart
    assert chart.high.tolist() == [2.0, 2.0, 2.0]
    assert not chart.signal.any()


def test_a_new_stretch_is_judged_as_if_nothing_came_before():
    x = np.random.default_rng(56).normal(size=12)
    starts = np.arange(12) == 7
    whole = self_starting_cusum(x, head_start=2.0, stretch_start=starts)
    first, second = (self_starting_cusum(part, head_start=2.0) for part in (x[:7], x[7:]))
    np.testing.assert_array_equal(whole.q, np.concatenate([first.q, second.q]))
    for side in ("high", "low"):
        parts = [getattr(one.chart, side) for one in (first, second)]
        assert getattr(whole.chart, side).tolist() == np.concatenate(parts).tolist()


def test_cusum_finds_a_shift_after_twenty_jobs():
    rng = np.random.default_rng(55)
    found = []
    for _ in range(300):
        x = rng.normal(size=60)
        x[20:] += 2.0
        found.append(self_starting_cusum(x).chart.signal[20:].any())
    assert np.mean(found) > 0.95


def test_known_mean_and_sigma_need_no_history():
    assert q_statistics([7.0], mean=5.0, sigma=2.0).tolist() == [1.0]


def test_what_cannot_be_is_refused():
    with pytest.raises(TooFewReadings):
        q_statistics([])
    with pytest.raises(TooFewReadings):
        q_dispersion([1.0])
    with pytest.raises(NotFinite):
        q_statistics([1.0, np.nan])
    with pytest.raises(BadInput):
        q_statistics([1.0], sigma=0.0)
    with pytest.raises(BadInput):
        self_starting_cusum([1.0, 2.0, 3.0], h=0.0)
