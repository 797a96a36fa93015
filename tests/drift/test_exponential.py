"""The exponential of the compiled loops against Python's own, math.exp."""

import math

import pytest

from qc.numerics.drift.exponential import FURTHEST, exp


@pytest.mark.parametrize("step", [0.01, 1 / 3, math.log(2) / 2])
def test_it_is_the_exponential_to_the_last_places(step):
    for at in range(-int(FURTHEST / step), int(FURTHEST / step), 7):
        assert exp(at * step) == pytest.approx(math.exp(at * step), rel=5e-16)


def test_it_is_exact_at_none_and_stays_finite_beyond_what_floats_hold():
    assert exp(0.0) == 1.0
    assert exp(5000.0) == pytest.approx(math.exp(FURTHEST), rel=5e-16)
    assert exp(-5000.0) == pytest.approx(math.exp(-FURTHEST), rel=5e-16)
