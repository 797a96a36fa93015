"""Individuals and EWMA charts: worked examples, laws, and the edges."""

import numpy as np
import pytest

from qc.errors import BadInput, NotFinite, TooFewReadings
from qc.numerics.charts import ewma_chart, individuals_chart, individuals_limits

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
