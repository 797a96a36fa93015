"""Moments and the one-way table keep their digits; constructions of the NIST StRD sets."""

import numpy as np
import pytest
from scipy import stats

from qc.errors import BadInput, NotFinite, TooFewReadings
from qc.numerics.moments import moments, one_way


def smls(base):
    """NIST StRD Smls: 9 groups of 21; sums of squares 1.68 and 1.80 exactly, whatever the base."""
    middles = [base + 0.4, *([base + 0.3, base + 0.5] * 4)]
    return [[m, *([m - 0.1, m + 0.1] * 10)] for m in middles]


@pytest.mark.parametrize(("base", "rel"), [(1.0, 1e-12), (1e6, 1e-8), (1e12, 2e-2)])
def test_one_way_keeps_its_digits_far_from_zero(base, rel):
    # At 1e12 the readings themselves are rounded to 1.2e-4.
    found = one_way(smls(base))
    assert found.ss_between == pytest.approx(1.68, rel=rel)
    assert found.ss_within == pytest.approx(1.80, rel=rel)
    assert found.f == pytest.approx(21.0, rel=rel)
    assert (found.df_between, found.df_within) == (8, 180)


def test_unequal_groups_agree_with_scipy():
    rng = np.random.default_rng(131)
    groups = [rng.normal(mean, 1, size) for mean, size in [(0, 3), (1, 7), (0.5, 12), (2, 1)]]
    found, other = one_way(groups), stats.f_oneway(*groups)
    assert (found.f, found.p) == pytest.approx((other.statistic, other.pvalue))


def test_the_component_between_unequal_groups_is_unbiased():
    rng = np.random.default_rng(132)
    sizes = [2, 3, 5, 9]
    # A large component, so that it is hardly ever put to zero.
    found = [one_way([rng.normal(rng.normal(0, 5), 1, n) for n in sizes]) for _ in range(4000)]
    var = np.array([one.var_between for one in found])
    assert var.mean() == pytest.approx(25.0, abs=4 * var.std() / np.sqrt(var.size))


@pytest.mark.parametrize("offset", [0.0, 1e7, 1e12])
def test_moments_of_one_two_three(offset):
    found = moments([offset + 1, offset + 3, offset + 2])
    assert (found.mean - offset, found.sd, found.lag1) == (2.0, 1.0, -0.5)


def test_equal_readings_have_no_lag_and_no_f():
    assert moments([0.1, 0.1, 0.1]).lag1 is None
    assert moments([0.1, 0.1, 0.1]).mean == 0.1
    found = one_way([[1.0, 1.0], [1.0, 1.0]])
    assert (found.f, found.p, found.r2) == (None, None, None)


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: moments([1.0]), TooFewReadings),
        (lambda: moments([1.0, np.nan]), NotFinite),
        (lambda: one_way([[1.0, 2.0]]), BadInput),
        (lambda: one_way([[1.0], [2.0]]), TooFewReadings),
        (lambda: one_way([[1.0, 2.0], []]), TooFewReadings),
    ],
)
def test_what_has_no_spread_to_tell_is_refused(call, error):
    with pytest.raises(error):
        call()
