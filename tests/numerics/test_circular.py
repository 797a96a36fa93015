"""Directions and vectors: published examples, other functions, and chance by simulation."""

import math

import numpy as np
import pytest
from scipy import stats

from qc.errors import BadInput, NotFinite, TooFewReadings
from qc.numerics.circular import (
    directions,
    fit_circle,
    mean_vector,
    rayleigh_p_exact,
    v_test,
)

# Zar, pigeon homing, ten bearings: mean 94, R 9.52, V about 90 is 9.498, u 4.248; from memory.
PIGEONS = [66, 75, 86, 88, 88, 93, 97, 101, 118, 130]


def test_printed_pigeon_bearings():
    found = directions(PIGEONS)
    assert found.mean_deg == pytest.approx(94, abs=0.5)
    assert found.resultant == pytest.approx(9.52, abs=5e-3)
    test = v_test(PIGEONS, expected_deg=90)
    assert (test.v, test.u) == pytest.approx((9.498, 4.248), abs=1e-3)


def test_turning_all_turns_the_mean():
    plain, turned = directions(PIGEONS), directions([d + 300 for d in PIGEONS])
    assert (turned.mean_deg - plain.mean_deg) % 360 == pytest.approx(300)
    assert turned.resultant == pytest.approx(plain.resultant)


def test_directions_that_balance_point_nowhere():
    found = directions([0, 120, 240])
    assert found.mean_deg is None
    assert found.sd_rad == math.inf
    assert found.p_wilkie == pytest.approx(1.0, abs=0.03)
    assert rayleigh_p_exact([0, 120, 240]) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    "deg", [[0, 80], [0, 40, 100], [10, 50, 80, 200], [5, 30, 50, 300, 90, 70]]
)
def test_exact_chance_against_simulation(deg):
    rng = np.random.default_rng(121)
    runs = 400_000
    angle = rng.uniform(0, 2 * math.pi, (runs, len(deg)))
    resultant = np.hypot(np.cos(angle).sum(axis=1), np.sin(angle).sum(axis=1))
    p = rayleigh_p_exact(deg)
    error = math.sqrt(p * (1 - p) / runs)
    assert (resultant > directions(deg).resultant).mean() == pytest.approx(p, abs=4 * error)


def test_approximations_come_near_the_exact_chance():
    rng = np.random.default_rng(122)
    for n, rel in [(10, 0.05), (60, 0.01), (400, 0.01)]:
        deg = rng.uniform(0, 360, n)
        exact, found = rayleigh_p_exact(deg), directions(deg)
        assert found.p_wilkie == pytest.approx(exact, rel=rel, abs=2e-3)
        assert found.p_series == pytest.approx(exact, rel=rel, abs=2e-3)


def test_too_small_a_chance_is_not_stated():
    assert rayleigh_p_exact([10.0] * 12) is None


def test_hotelling_of_one_number_is_the_t_test():
    x = np.random.default_rng(123).normal(0.3, 1, 15)
    found = mean_vector(x[:, None])
    t = stats.ttest_1samp(x, 0.0)
    assert found.t2 == pytest.approx(t.statistic**2)
    assert found.p == pytest.approx(t.pvalue)


def test_hotelling_by_hand():
    # Johnson & Wichern, example 5.1: T2 = 7/9; from memory.
    found = mean_vector([[6, 9], [10, 6], [8, 3]], centre=[9, 5])
    assert found.t2 == pytest.approx(7 / 9)
    assert found.df == (2, 1)
    assert found.covariance.tolist() == [[4.0, -3.0], [-3.0, 9.0]]


def test_hotelling_rejects_as_often_as_it_says():
    rng = np.random.default_rng(124)
    runs = 4000
    found = [mean_vector(rng.normal(size=(6, 2))) for _ in range(runs)]
    rejected = np.mean([one.t2 > one.t2_limit for one in found])
    assert rejected == pytest.approx(0.05, abs=4 * math.sqrt(0.05 * 0.95 / runs))


def test_hotelling_does_not_depend_on_the_axes():
    rng = np.random.default_rng(125)
    x, turn = rng.normal(size=(12, 2)), rng.normal(size=(2, 2))
    assert mean_vector(x @ turn.T).t2 == pytest.approx(mean_vector(x).t2)


def test_a_circle_is_found_again():
    angle = np.radians([0, 50, 130, 200, 290])
    points = np.column_stack([3 + 2 * np.cos(angle), -1 + 2 * np.sin(angle)])
    found = fit_circle(points)
    assert (found.x, found.y, found.radius) == pytest.approx((3, -1, 2))
    assert found.out_of_round < 1e-9


def test_no_nearby_circle_is_nearer():
    rng = np.random.default_rng(126)
    angle = rng.uniform(0, 4, 20)
    points = np.column_stack([np.cos(angle), np.sin(angle)]) * 5 + rng.normal(0, 0.1, (20, 2))
    found = fit_circle(points)

    def squares(x, y, r):
        return ((np.hypot(points[:, 0] - x, points[:, 1] - y) - r) ** 2).sum()

    best = squares(found.x, found.y, found.radius)
    for step in np.vstack([np.eye(3), -np.eye(3)]) * 1e-3:
        assert squares(*(np.array([found.x, found.y, found.radius]) + step)) > best


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: directions([]), TooFewReadings),
        (lambda: directions([np.nan]), NotFinite),
        (lambda: rayleigh_p_exact([1.0]), TooFewReadings),
        (lambda: mean_vector([[0.1, 0.2], [0.3, 0.1]]), TooFewReadings),
        (lambda: mean_vector([[1.0, 2.0], [2.0, 4.0], [3.0, 6.0]]), BadInput),
        (lambda: mean_vector([[1.0, 2.0], [2.0, 2.0], [3.0, 2.0]]), BadInput),
        (lambda: fit_circle([[0, 0], [1, 1]]), TooFewReadings),
        (lambda: fit_circle([[0, 0], [1, 1], [2, 2]]), BadInput),
    ],
)
def test_what_points_nowhere_is_refused(call, error):
    with pytest.raises(error):
        call()
