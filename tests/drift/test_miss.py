"""Against SciPy's own noncentral chi-square and normal, by drawing, and by laws."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from qc.errors import BadInput, NotFinite
from qc.numerics.drift import Budget, Watch, jobs
from qc.numerics.drift.channel_settings import SCALES
from qc.numerics.drift.forecast import HAZARD, hypothesis_weights, outlook
from qc.numerics.drift.miss import (
    QUARTERS,
    NextJob,
    beyond_circle,
    evenness_miss,
    height_miss,
    mixture,
)
from tests.drift.shop import Change, season
from tests.drift.shops import watched

KNOCKED = 4_000_003
# Variance a bias gains an own job while hardly anything speaks for longer walks: odds exp(-2.5).
WALKED = 1e-7 * (1 + (10 - 1) / (1 + np.exp(2.5)))


@pytest.fixture(scope="module")
def knocked():
    """A shop whose fixture was knocked 0.060 mm some 25 jobs ago, and which fixture that is."""
    one = season(KNOCKED, n=150, change=Change("fixture", 0.060, earliest=110, latest=111))
    return watched(one, until=150), one.changed[1]


@pytest.mark.parametrize("radius", [0.060, 0.5, 60.0])
@pytest.mark.parametrize("sd", [0.0005, 0.018, 0.060])
@pytest.mark.parametrize("off", [0.0, 0.015, 0.070, 0.4])
def test_the_circle_is_the_noncentral_chi_square_where_spread_is_round(sd, off, radius):
    mean = np.array([[off * np.cos(1.1), off * np.sin(1.1)]])
    got = beyond_circle(mean, np.eye(2)[None] * sd**2, radius=radius)
    want = stats.ncx2.sf((radius / sd) ** 2, 2, (off / sd) ** 2)
    np.testing.assert_allclose(got, want, atol=1e-6)


def test_evenness_is_asked_of_the_tilt_channel(knocked):
    with pytest.raises(BadInput, match="tilt channel"):
        evenness_miss(knocked[0].channels["height"], NextJob(fixture=0))


def test_the_circle_in_any_spread_agrees_with_drawing():
    mean, cov = np.array([0.02, -0.03]), np.array([[9.0, 5.0], [5.0, 4.0]]) * 1e-4
    drawn = np.random.default_rng(1).multivariate_normal(mean, cov, 400_000)
    got = beyond_circle(mean[None], cov[None], radius=0.060)[0]
    assert got == pytest.approx((np.hypot(*drawn.T) > 0.060).mean(), abs=0.003)


def test_a_new_shops_first_job_is_the_sum_over_its_noise():
    watch = Watch(budget=Budget())
    tilt = watch.channels["tilt"]
    got = evenness_miss(tilt, NextJob(fixture=3, operator=1), clocking_deg=[90.0], hazard=1e-12)
    var = 0.012**2 + 0.015**2 + 0.004**2 + 0.006**2 + WALKED + 1e-7
    share = np.array([0.95, 0.04, 0.01])
    drawn = np.random.default_rng(2).standard_normal((2, 2_000_000))
    size = np.random.default_rng(3).choice(3, (2, 2_000_000), p=share)
    read = drawn * np.sqrt(var + 0.0102**2 * SCALES[size] ** 2)
    assert got == pytest.approx((np.hypot(*read) > 0.060).mean(), abs=6e-4)


def test_what_is_averaged_is_each_clocking_alone(knocked):
    watch, fixture = knocked
    tilt, job = watch.channels["tilt"], NextJob(fixture=fixture, operator=0)
    each = [evenness_miss(tilt, job, clocking_deg=[one]) for one in QUARTERS]
    assert evenness_miss(tilt, job) == pytest.approx(np.mean(each), rel=1e-12)
    # Each as often as it is used.
    got = evenness_miss(tilt, job, clocking_deg=[270.0, 0.0, 270.0, 270.0])
    assert got == pytest.approx((each[0] + 3 * each[3]) / 4, rel=1e-12)
    assert each[0] != pytest.approx(each[3], rel=1e-3)
    # A shop-wide tilt adds to the knock one way round and takes from it the other.
    assert max(each) > 1.5 * min(each)


def test_a_knocked_fixture_misses_more_than_the_others(knocked):
    watch, fixture = knocked
    tilt = watch.channels["tilt"]
    others = {key[1] for key in tilt.keys if key[0] == "fixture"} - {fixture}
    each = {one: evenness_miss(tilt, NextJob(fixture=one, operator=0)) for one in others}
    assert evenness_miss(tilt, NextJob(fixture=fixture, operator=0)) > 3 * max(each.values())


def test_asking_changes_nothing(knocked):
    watch, fixture = knocked
    tilt = watch.channels["tilt"]
    before = [array.copy() for array in tilt.state]
    first = evenness_miss(tilt, NextJob(fixture=fixture, operator=0))
    evenness_miss(tilt, NextJob(fixture=99, operator=77))
    assert evenness_miss(tilt, NextJob(fixture=fixture, operator=0)) == first
    assert all(np.array_equal(a, b) for a, b in zip(before, tilt.state, strict=True))


def test_wear_that_goes_on_misses_more_later():
    worn = season(
        4_000_010, n=190, change=Change("fixture", 0.0015, is_ramp=True, earliest=20, latest=21)
    )
    tilt, fixture = watched(worn, until=190).channels["tilt"], worn.changed[1]
    soon, later = (
        evenness_miss(tilt, NextJob(fixture=fixture, operator=0), ahead=ahead) for ahead in (1, 20)
    )
    assert later > soon + 0.05


def test_weights_are_those_of_one_move_against_none(knocked):
    watch, _ = knocked
    tilt = watch.channels["tilt"]
    state, arrays = tilt.state, tilt.arrays
    h = state.counts[2]
    weight = hypothesis_weights(state, arrays)
    odds = np.exp(
        state.evidence[:h] + state.weight[:h] + arrays.log_prior[state.kind[state.who[:h]]]
    ) * (HAZARD / (1 - HAZARD))
    np.testing.assert_allclose(weight / (1 - weight.sum()), odds, rtol=1e-6)


def test_the_mixture_weighs_one_and_holds_every_move(knocked):
    watch, fixture = knocked
    possible = NextJob(fixture=fixture, operator=0).rows(
        1, clocking_deg=[0.0], tilt_achieved_mm=np.zeros((1, 2))
    )
    seen = outlook(watch.channels["tilt"], possible)
    weight, mean, cov = mixture(seen, 0)
    assert weight.sum() == pytest.approx(1)
    assert (weight > 0).all()
    assert (np.linalg.eigvalsh(cov) > 0).all()
    # What the mixture expects of the fixture's move lies within what the whole mixture spans.
    assert np.hypot(*(weight @ mean)) < np.hypot(*mean.T).max()


@pytest.mark.parametrize(("evidence", "times"), [(0.0, WALKED / 1e-7), (100.0, 10.0)])
def test_jobs_further_ahead_are_less_sure_by_the_walk_the_shop_has_shown(evidence, times):
    height = Watch(budget=Budget()).channels["height"]
    height.state.walk_evidence[0] = evidence
    possible = jobs(1, lathe=[0], edge=[0], height_error_mm=[0.0])
    near, far = (outlook(height, possible, ahead=ahead).cov[0, 0] for ahead in (1, 101))
    assert far - near == pytest.approx(100 * (1 + times) * 1e-7, rel=1e-9)


def test_height_of_a_new_shop_is_normal_but_for_its_tails():
    height = Watch(budget=Budget()).channels["height"]
    got = height_miss(
        height,
        NextJob(lathe=0, edge=0, operator=0, gauge_achieved=0, edge_jobs=50),
        lower_mm=-0.05,
        upper_mm=0.06,
        hazard=1e-12,
    )
    biases = 0.030**2 + 0.010**2 + 0.006**2 + 0.007**2 + 0.006**2 + WALKED + 3e-7
    sd = np.sqrt(biases + 0.020**2 * SCALES**2)
    # Fifty jobs on the edge: 0.010 mm of its usual wear.
    want = np.array([0.95, 0.04, 0.01]) @ (
        stats.norm.cdf(-0.05, 0.010, sd) + stats.norm.sf(0.06, 0.010, sd)
    )
    assert got == pytest.approx(want, rel=1e-9)


def test_height_shifts_with_its_tolerance(knocked):
    watch, _ = knocked
    height, job = watch.channels["height"], NextJob(lathe=0, edge=0, operator=0, gauge_achieved=0)
    there = height_miss(height, job, lower_mm=-0.04, upper_mm=0.04, shift_mm=0.013)
    assert height_miss(height, job, lower_mm=-0.053, upper_mm=0.027) == pytest.approx(there)
    assert height_miss(height, job, lower_mm=-9.0, upper_mm=9.0) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("changed", "error"),
    [
        ({"clocking_deg": []}, BadInput),
        ({"clocking_deg": [np.nan]}, NotFinite),
        ({"limit_mm": 0.0}, BadInput),
        ({"limit_mm": np.nan}, BadInput),
        ({"ahead": 0}, BadInput),
        ({"hazard": 1.0}, BadInput),
    ],
)
def test_bad_input_is_refused(changed, error):
    tilt = Watch(budget=Budget()).channels["tilt"]
    with pytest.raises(error):
        evenness_miss(tilt, NextJob(fixture=0), **changed)


def test_bad_jobs_and_tolerances_are_refused():
    watch = Watch(budget=Budget())
    with pytest.raises(BadInput):
        evenness_miss(watch.channels["tilt"], NextJob(fixture=-2))
    with pytest.raises(BadInput):
        height_miss(watch.channels["height"], NextJob(), lower_mm=0.02, upper_mm=0.02)
    with pytest.raises(NotFinite):
        height_miss(watch.channels["height"], NextJob(), lower_mm=np.nan, upper_mm=0.02)
    with pytest.raises(BadInput):
        outlook(watch.channels["tilt"], jobs(0))
