"""Chart constants against closed forms, an exact recursion and printed tables."""

import math

import numpy as np
import pytest

from qc.errors import BadInput, TooFewReadings
from qc.numerics.constants import D2_OF_TWO, D4_OF_TWO, c4, chart_constants, d2, d3

# n: d2, d3, c4 as printed to three or four figures in ASTM E2587 and textbooks; from memory.
PRINTED = {
    2: (1.128, 0.853, 0.7979),
    5: (2.326, 0.864, 0.9400),
    10: (3.078, 0.797, 0.9727),
    25: (3.931, 0.708, 0.9896),
}


def test_groups_of_two_and_three_have_closed_forms():
    assert d2(2) == pytest.approx(2 / math.sqrt(math.pi), rel=1e-13)
    assert d2(2) == pytest.approx(D2_OF_TWO, rel=1e-13)
    assert d3(2) ** 2 == pytest.approx(2 - 4 / math.pi, rel=1e-12)
    assert d2(3) == pytest.approx(3 / math.sqrt(math.pi), rel=1e-13)
    assert d3(3) ** 2 == pytest.approx(2 + 3 * math.sqrt(3) / math.pi - 9 / math.pi, rel=1e-12)


def test_c4_obeys_its_recursion_up_to_two_thousand():
    # Gamma(a + 1) = a Gamma(a) gives c4(n) c4(n + 1) = sqrt(a / (a + 1/2)), a = (n - 1) / 2.
    n = np.arange(2, 2000)
    a = (n - 1) / 2
    product = np.array([c4(int(k)) * c4(int(k) + 1) for k in n])
    np.testing.assert_allclose(product, np.sqrt(a / (a + 0.5)), rtol=1e-12)


@pytest.mark.parametrize(("n", "printed"), PRINTED.items())
def test_printed_tables_agree_to_their_last_figure(n, printed):
    assert (d2(n), d3(n)) == pytest.approx(printed[:2], abs=6e-4)
    assert c4(n) == pytest.approx(printed[2], abs=6e-5)


@pytest.mark.parametrize("n", [100, 1000])
def test_large_groups_agree_with_simulated_ranges(n):
    runs = 20_000
    ranges = np.ptp(np.random.default_rng(11).standard_normal((runs, n)), axis=1)
    standard_error = d3(n) / math.sqrt(runs)
    assert ranges.mean() == pytest.approx(d2(n), abs=4 * standard_error)
    assert ranges.std() == pytest.approx(d3(n), abs=4 * d3(n) / math.sqrt(runs))


def test_lower_factors_never_fall_under_zero():
    small = chart_constants(2)
    assert (small.B3, small.D3) == (0.0, 0.0)
    large = chart_constants(50)
    assert 0 < large.D3 < 1 < large.D4
    assert 0 < large.B3 < 1 < large.B4


def test_median_moving_range_constant_is_the_upper_quartile():
    pairs = np.random.default_rng(3).standard_normal((400_000, 2))
    # Standard error of this median: 1 / (2 f sqrt n), f the density of |a - b| there, 0.449.
    error = 1 / (2 * 0.449 * math.sqrt(400_000))
    assert np.median(np.abs(np.diff(pairs, axis=1))) == pytest.approx(D4_OF_TWO, abs=4 * error)


@pytest.mark.parametrize("n", [1, 0, -3])
def test_no_spread_inside_groups_under_two(n):
    with pytest.raises(TooFewReadings):
        chart_constants(n)


@pytest.mark.parametrize("n", [2.0, "5", None])
def test_a_group_size_is_a_whole_number(n):
    with pytest.raises(BadInput):
        c4(n)
