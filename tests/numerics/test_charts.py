"""Charts: worked examples, laws, and the edges."""

import numpy as np
import pytest

from qc.errors import BadInput, NotFinite, TooFewReadings
from qc.numerics.charts import (
    between_within,
    cusum_chart,
    deviations,
    ewma_chart,
    group_chart,
    group_limits,
    individuals_chart,
    individuals_limits,
    mewma_chart,
    pooled_sd,
    scaled_deviations,
)
from qc.numerics.charts.ewma import weighted_mean

# NIST/SEMATECH e-Handbook 6.3.2.2; data and printed results from memory. It rounds d2 to 1.128.
FLOW_RATE = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_the_handbook_individuals_example():
    limits = individuals_limits(FLOW_RATE)
    assert limits.centre == pytest.approx(50.81)
    assert limits.moving_range_mean == pytest.approx(1.8778, abs=5e-5)
    # 3 / 1.128 against 3 / d2: the printed limits are 0.0017 wider.
    assert (limits.lower, limits.upper) == pytest.approx((45.8159, 55.8041), abs=0.002)
    chart = individuals_chart(FLOW_RATE)
    assert not chart.beyond.any()
    assert np.isnan(chart.moving_range[0])
    assert chart.moving_range[1:3].tolist() == pytest.approx([2.0, 2.3])


def test_limits_move_and_stretch_with_the_readings():
    plain = individuals_limits(FLOW_RATE)
    moved = individuals_limits(np.array(FLOW_RATE) * -2 + 7)
    assert moved.centre == pytest.approx(7 - 2 * plain.centre)
    assert moved.upper == pytest.approx(7 - 2 * plain.lower)
    assert moved.sigma == pytest.approx(2 * plain.sigma)


def test_a_median_spread_ignores_one_jump():
    quiet = [0.0, 0.01, -0.01, 0.02, 0.0, 0.01, -0.01, 0.02]
    jump = quiet + [x + 1.0 for x in quiet]
    assert individuals_limits(jump, spread="median").sigma < 0.04
    assert individuals_limits(jump).sigma > 0.07


def test_no_moving_range_reaches_across_a_service_event():
    x = [1.0, 1.1, 1.0, 5.0, 5.1, 5.0]
    start = np.array([True, False, False, True, False, False])
    assert individuals_limits(x, stretch_start=start).moving_range_mean == pytest.approx(0.1)
    chart = individuals_chart(x, stretch_start=start)
    assert np.flatnonzero(np.isnan(chart.moving_range)).tolist() == [0, 3]


def test_points_on_the_limit_are_inside():
    limits = individuals_limits([0.0, 1.0, 0.0, 1.0])
    chart = individuals_chart([limits.upper, limits.lower, limits.upper + 1e-9], limits=limits)
    assert chart.beyond.tolist() == [False, False, True]


def test_frozen_limits_judge_a_single_new_job():
    limits = individuals_limits(FLOW_RATE)
    assert individuals_chart([60.0], limits=limits).beyond.tolist() == [True]


@pytest.mark.parametrize("value", [0.1, 1.0, 1e7 / 3])
def test_equal_readings_have_no_width_and_flag_nothing(value):
    limits = individuals_limits([value] * 7)
    assert limits.is_zero_width
    assert limits.centre == value
    chart = individuals_chart([value, value + 1], limits=limits)
    assert not chart.beyond.any()
    assert not chart.moving_range_beyond.any()
    assert not ewma_chart([value, value + 1], centre=value, sigma=0.0).signal.any()


def test_rounding_of_a_subtraction_is_no_spread():
    x = [1.1 - 1.0, 0.1, 1.1 - 1.0, 0.1]
    assert x[0] != x[1]
    assert not individuals_limits([1.0, 1.0 + 1e-9, 1.0]).is_zero_width
    assert individuals_limits([1.0, 1.0 + 2e-16, 1.0]).is_zero_width


@pytest.mark.parametrize(
    ("x", "error"),
    [
        ([], TooFewReadings),
        ([1.0], TooFewReadings),
        ([1.0, np.nan], NotFinite),
        ([1.0, np.inf], NotFinite),
        ([[1.0, 2.0]], BadInput),
        (["a", "b"], BadInput),
    ],
)
def test_readings_that_make_no_chart_are_refused(x, error):
    with pytest.raises(error):
        individuals_limits(x)


def test_two_single_job_stretches_have_no_moving_range():
    with pytest.raises(TooFewReadings):
        individuals_limits([1.0, 2.0], stretch_start=np.array([True, True]))


def test_ewma_by_hand():
    chart = ewma_chart([12.0, 10.0, 14.0], centre=10.0, sigma=1.0, weight=0.5, width=2.0)
    assert chart.z.tolist() == [11.0, 10.5, 12.25]
    # width sigma sqrt(1/3 (1 - 0.25^i))
    expected = 2 * np.sqrt(np.array([0.75, 0.9375, 0.984375]) / 3)
    np.testing.assert_allclose(chart.half_width, expected, rtol=1e-14)
    assert chart.signal.tolist() == [False, False, True]
    np.testing.assert_allclose(chart.upper - chart.centre, chart.half_width, rtol=1e-14)


def test_ewma_starts_again_at_a_service_event():
    x = [12.0, 11.0, 13.0, 9.0]
    whole = ewma_chart(
        x, centre=10.0, sigma=1.0, stretch_start=np.array([True, False, True, False])
    )
    second = ewma_chart(x[2:], centre=10.0, sigma=1.0)
    assert whole.z[2:].tolist() == second.z.tolist()
    assert whole.half_width[2:].tolist() == second.half_width.tolist()


def test_a_weight_of_one_is_the_chart_of_single_points():
    chart = ewma_chart(FLOW_RATE, centre=50.0, sigma=1.0, weight=1.0, width=3.0)
    assert chart.z.tolist() == FLOW_RATE
    assert chart.half_width.tolist() == [3.0] * 10


@pytest.mark.parametrize(
    "wrong", [{"weight": 0.0}, {"weight": 1.2}, {"width": 0.0}, {"sigma": -1.0}]
)
def test_ewma_settings_that_cannot_be_are_refused(wrong):
    with pytest.raises(BadInput):
        ewma_chart([1.0], **{"centre": 0.0, "sigma": 1.0, **wrong})


def test_stretch_starts_are_one_for_each_job():
    with pytest.raises(BadInput):
        individuals_limits([1.0, 2.0], stretch_start=[True])
    with pytest.raises(BadInput):
        individuals_limits([1.0, 2.0], stretch_start=[1, 0])


# Montgomery's piston rings, first five groups; from memory, with their printed means and ranges.
RINGS = [
    [74.030, 74.002, 74.019, 73.992, 74.008],
    [73.995, 73.992, 74.001, 74.011, 74.004],
    [73.988, 74.024, 74.021, 74.005, 74.002],
    [74.002, 73.996, 73.993, 74.015, 74.009],
    [73.992, 74.007, 74.015, 73.989, 74.014],
]


def test_group_chart_by_table_factors():
    chart = group_chart(RINGS)
    assert chart.mean.tolist() == pytest.approx([74.010, 74.001, 74.008, 74.003, 74.003], abs=5e-4)
    assert chart.spread.tolist() == pytest.approx([0.038, 0.019, 0.036, 0.022, 0.026])
    # A2 = 0.577, D4 = 2.114 for n = 5.
    mean_range = chart.limits.spread_mean
    assert chart.upper[0] - chart.limits.centre == pytest.approx(0.577 * mean_range, rel=1e-3)
    assert chart.spread_upper[0] == pytest.approx(2.114 * mean_range, rel=1e-3)
    assert chart.spread_lower[0] == 0.0


def test_group_chart_by_standard_deviation():
    chart = group_chart(RINGS, spread="sd")
    s = np.std(RINGS, axis=1, ddof=1)
    assert chart.spread.tolist() == pytest.approx(s.tolist())
    # A3 = 1.427, B4 = 2.089 for n = 5.
    assert chart.upper[0] - chart.limits.centre == pytest.approx(1.427 * s.mean(), rel=1e-3)
    assert chart.spread_upper[0] == pytest.approx(2.089 * s.mean(), rel=1e-3)
    assert pooled_sd(RINGS) == pytest.approx(np.sqrt((s**2).mean()))


def test_groups_of_different_size_have_their_own_limits():
    limits = group_limits(RINGS)
    chart = group_chart([[74.0, 74.1], [74.0, 74.1, 74.0, 74.1]], limits=limits)
    widths = chart.upper - chart.lower
    assert widths[0] / widths[1] == pytest.approx(np.sqrt(2))
    assert chart.spread_upper[0] < chart.spread_upper[1]


def test_group_sigma_is_right_on_average():
    rng = np.random.default_rng(41)
    sigmas = {
        spread: np.array(
            [group_limits(rng.normal(0, 2, (10, 4)), spread=spread).sigma for _ in range(2000)]
        )
        for spread in ("range", "sd")
    }
    for values in sigmas.values():
        assert values.mean() == pytest.approx(2.0, abs=4 * values.std() / np.sqrt(2000))


def test_between_and_within_come_apart():
    rng = np.random.default_rng(42)
    runs = 500
    found = []
    for _ in range(runs):
        heights = rng.normal(1.0, 0.03, (60, 1)) + rng.normal(0, 0.02, (60, 4))
        chart = between_within(heights)
        found.append((chart.sigma_between**2, chart.sigma_within))
    between2, within = np.array(found).T
    # E of the squared moving-range sigma exceeds sigma^2 by its own variance, about 1.4 % here.
    assert between2.mean() == pytest.approx(0.03**2, rel=0.04)
    assert within.mean() == pytest.approx(0.02, abs=4 * within.std() / np.sqrt(runs))


def test_between_is_never_under_zero():
    groups = [[1.0, 2.0], [2.0, 1.0], [1.0, 2.0], [2.0, 1.0]]
    found = between_within(groups)
    assert found.between_is_clipped
    assert found.sigma_between == 0.0
    assert found.sigma_total == found.sigma_within


def test_groups_without_spread_flag_nothing():
    chart = group_chart([[1.0, 1.0], [1.0, 1.0]])
    assert chart.limits.is_zero_width
    late = group_chart([[5.0, 6.0]], limits=chart.limits)
    assert not late.beyond.any()
    assert not late.spread_beyond.any()


@pytest.mark.parametrize(
    ("groups", "error"),
    [([], TooFewReadings), ([[1.0]], TooFewReadings), ([[1.0, np.nan]], NotFinite)],
)
def test_groups_that_make_no_chart_are_refused(groups, error):
    with pytest.raises(error):
        group_chart(groups)


def test_positions_must_be_as_many_in_every_job():
    with pytest.raises(BadInput):
        between_within([[1.0, 1.1], [1.0, 1.1, 1.2]])


def test_different_targets_share_one_chart():
    assert deviations([1.02, 0.91], target=[1.0, 0.9]).tolist() == pytest.approx([0.02, 0.01])
    scaled = scaled_deviations([1.02, 0.91], target=[1.0, 0.9], tolerance=[0.04, 0.01])
    assert scaled.tolist() == pytest.approx([0.5, 1.0])
    with pytest.raises(BadInput):
        scaled_deviations([1.0], target=[1.0], tolerance=[0.0])
    with pytest.raises(BadInput):
        deviations([1.0, 2.0], target=[1.0])


def test_cusum_by_hand():
    x = [10.5, 11.5, 9.0, 12.0]
    chart = cusum_chart(x, target=10.0, sigma=2.0, k=0.25, h=0.7)
    assert chart.high.tolist() == [0.0, 1.0, 0.0, 1.5]
    assert chart.low.tolist() == [0.0, 0.0, 0.5, 0.0]
    assert chart.high_run.tolist() == [0, 1, 0, 1]
    assert chart.decision == 1.4
    assert chart.signal.tolist() == [False, False, False, True]


def test_cusum_restarts_with_its_head_start():
    chart = cusum_chart(
        [0.0, 0.0, 0.0],
        target=0.0,
        sigma=1.0,
        k=0.5,
        h=4.0,
        head_start=2.0,
        stretch_start=np.array([True, False, True]),
    )
    assert chart.high.tolist() == [1.5, 1.0, 1.5]
    assert chart.low.tolist() == [1.5, 1.0, 1.5]


def test_a_sum_on_the_decision_interval_is_no_signal():
    chart = cusum_chart([1.5, 1.0], target=0.0, sigma=1.0, k=0.5, h=1.0)
    assert chart.signal.tolist() == [False, True]


@pytest.mark.parametrize("wrong", [{"sigma": 0.0}, {"k": -1.0}, {"h": 0.0}, {"head_start": 6.0}])
def test_cusum_settings_that_cannot_be_are_refused(wrong):
    with pytest.raises(BadInput):
        cusum_chart([1.0], **{"target": 0.0, "sigma": 1.0, **wrong})


def test_mewma_of_weight_one_is_t_squared():
    x = np.random.default_rng(43).normal(size=(5, 3))
    covariance = np.diag([1.0, 4.0, 9.0]) + 0.3
    chart = mewma_chart(x, centre=np.ones(3), covariance=covariance, limit=8.0, weight=1.0)
    off = x - 1.0
    t2 = np.einsum("ij,jk,ik->i", off, np.linalg.inv(covariance), off)
    np.testing.assert_allclose(chart.statistic, t2, rtol=1e-12)
    np.testing.assert_allclose(chart.mean, x, rtol=1e-12)
    assert chart.signal.tolist() == (t2 > 8.0).tolist()


def test_mewma_of_one_number_is_the_ewma_squared():
    x = np.random.default_rng(44).normal(size=30)
    for steady in (True, False):
        many = mewma_chart(
            x[:, None],
            centre=[0.0],
            covariance=[[1.0]],
            limit=9.0,
            weight=0.2,
            steady_covariance=steady,
        )
        one = ewma_chart(x, centre=0.0, sigma=1.0, weight=0.2, width=3.0, steady_limits=steady)
        np.testing.assert_allclose(many.statistic, 9 * (one.z / one.half_width) ** 2, rtol=1e-12)
        assert many.signal.tolist() == one.signal.tolist()


def test_mewma_does_not_depend_on_the_axes():
    rng = np.random.default_rng(45)
    x, turn = rng.normal(size=(20, 2)), rng.normal(size=(2, 2))
    plain = mewma_chart(x, centre=[0, 0], covariance=np.eye(2), limit=9.0)
    turned = mewma_chart(x @ turn.T, centre=[0, 0], covariance=turn @ turn.T, limit=9.0)
    np.testing.assert_allclose(turned.statistic, plain.statistic, rtol=1e-9)


def test_numbers_that_follow_from_each_other_are_refused():
    with pytest.raises(BadInput):
        mewma_chart([[1.0, 2.0]], centre=[0, 0], covariance=[[1.0, 1.0], [1.0, 1.0]], limit=9.0)


def test_an_ewma_taken_up_again_gives_the_same_bits():
    x = np.random.default_rng(46).normal(size=200)
    whole = weighted_mean(x, weight=0.2, before=0.3)
    carried, last = [], 0.3
    for reading in x:
        last = float(weighted_mean(np.array([reading]), weight=0.2, before=last)[0])
        carried.append(last)
    assert whole.tolist() == carried
