"""The plane through the gaps, what positions can show, and turning between the clocks."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import AnglesDoNotSpan, BadInput, LengthTooLarge, NegativeLength, NotFinite
from qc.numerics.tilt import (
    fit_gap,
    fit_gaps,
    gap_at,
    require_tilt,
    scaled_to_radius,
    tilt_mrad,
    to_engine_frame,
    to_fixture_frame,
    turn,
)
from qc.units import Length, Unit
from tests.reference.cases import TradeCase, trade_cases

FOUR = [0, 90, 180, 270]
gaps = st.lists(st.integers(200, 2000), min_size=4, max_size=4).map(
    lambda um: np.array(um) / 1000.0
)
# Distinct whole degrees with one in each third of the circle: never over 180 between neighbours.
spread_positions = st.tuples(
    st.integers(0, 59), st.integers(120, 179), st.integers(240, 299), st.integers(300, 359)
).map(list)


@pytest.mark.parametrize("case", trade_cases("plane_fit"))
def test_plane_fit_as_in_the_trade_case(case: TradeCase):
    position, value = zip(*case.inputs["readings"], strict=True)
    fit = fit_gap(value, position_deg=position)
    freedom = len(value) - 3
    case.check(
        {
            "centre": fit.height_mm,
            "amp": fit.amplitude_mm,
            "spread": fit.side_to_side_mm,
            "tilt_mrad": tilt_mrad(fit.amplitude_mm, radius_mm=case.inputs["radius"]),
            "wide_side_deg": fit.wide_toward_deg,
            "tight_predicted": fit.height_mm - fit.amplitude_mm,
            "rss": fit.misfit_rms_mm * math.sqrt(freedom),
        }
    )


@pytest.mark.parametrize("case", trade_cases("four_point"))
def test_four_points_as_in_the_trade_case(case: TradeCase):
    given_ = case.inputs
    fit = fit_gap([given_[f"g{at}"] for at in FOUR], position_deg=FOUR)
    case.check(
        {
            "centre": fit.height_mm,
            "amp": fit.amplitude_mm,
            "tilt_mrad": tilt_mrad(fit.amplitude_mm, radius_mm=given_["radius"]),
            "saddle": fit.saddle_mm,
        }
    )


def test_four_points_by_hand():
    # A = (g0 - g180) / 2 = 0.03, B = (g90 - g270) / 2 = 0.04, so the amplitude is 0.05; height is
    # the mean, 0.525; tightest is 0.525 - 0.05, under the lowest reading.
    fit = fit_gap([0.54, 0.58, 0.48, 0.50], position_deg=FOUR)
    assert (fit.a_mm, fit.b_mm) == (pytest.approx(0.03), pytest.approx(0.04))
    assert fit.height_mm == pytest.approx(0.525)
    assert fit.amplitude_mm == pytest.approx(0.05)
    assert fit.tightest_mm == pytest.approx(0.475)
    assert fit.saddle_mm == pytest.approx((0.54 + 0.48 - 0.58 - 0.50) / 4)


def test_the_lowest_reading_counts_when_it_is_under_the_plane():
    # The two-lobe part 0.05 lies on top of a plane without tilt.
    fit = fit_gap([0.55, 0.45, 0.55, 0.45], position_deg=FOUR)
    assert (fit.lowest_mm, fit.tightest_mm) == (0.45, 0.45)
    assert fit.amplitude_mm == pytest.approx(0.0, abs=1e-15)
    assert fit.wide_toward_deg is None


@given(gaps, spread_positions)
def test_the_fit_is_numpys_least_squares(value, position):
    phi = np.radians(position)
    design = np.column_stack([np.ones(4), np.cos(phi), np.sin(phi)])
    expected, squares, _, _ = np.linalg.lstsq(design, value, rcond=None)
    fit = fit_gap(value, position_deg=position)
    np.testing.assert_allclose([fit.height_mm, fit.a_mm, fit.b_mm], expected, atol=1e-12)
    assert fit.misfit_rms_mm == pytest.approx(math.sqrt(squares[0]), abs=1e-9)
    covariance = np.linalg.inv(design.T @ design)
    assert fit.unit_height_variance == pytest.approx(covariance[0, 0])
    np.testing.assert_allclose(fit.unit_covariance, covariance[1:, 1:], rtol=1e-9, atol=1e-12)


@given(
    st.lists(gaps, min_size=1, max_size=30),
    spread_positions,
)
def test_many_jobs_at_once_are_each_job_alone(rows, position):
    together = fit_gaps(np.array(rows), position_deg=position)
    for k, row in enumerate(rows):
        alone = fit_gap(row, position_deg=position)
        for name in ("height_mm", "a_mm", "b_mm", "side_to_side_mm", "lowest_mm", "tightest_mm"):
            assert getattr(together, name)[k] == pytest.approx(getattr(alone, name), abs=1e-12)


@given(gaps, spread_positions, st.integers(0, 2000))
def test_a_thicker_gasket_shifts_the_height_and_leaves_the_tilt(value, position, um):
    before, after = (fit_gap(v, position_deg=position) for v in (value, value + um / 1000))
    assert after.height_mm - before.height_mm == pytest.approx(um / 1000, abs=1e-9)
    assert after.tightest_mm - before.tightest_mm == pytest.approx(um / 1000, abs=1e-9)
    assert after.side_to_side_mm == pytest.approx(before.side_to_side_mm, abs=1e-9)


@given(gaps, spread_positions, st.floats(0.1, 10.0))
def test_scaled_gaps_scale_every_length(value, position, factor):
    one, other = (fit_gap(v, position_deg=position) for v in (value, value * factor))
    for name in ("height_mm", "a_mm", "b_mm", "side_to_side_mm", "tightest_mm", "misfit_rms_mm"):
        assert getattr(other, name) == pytest.approx(getattr(one, name) * factor, abs=1e-9)


@given(gaps, spread_positions, st.integers(0, 359))
def test_turning_the_clock_turns_the_vector_and_nothing_else(value, position, by):
    one = fit_gap(value, position_deg=position)
    other = fit_gap(value, position_deg=[at + by for at in position])
    assert other.height_mm == pytest.approx(one.height_mm, abs=1e-12)
    assert other.tightest_mm == pytest.approx(one.tightest_mm, abs=1e-12)
    turned = turn(one.a_mm, one.b_mm, by_deg=by)
    assert (other.a_mm, other.b_mm) == (
        pytest.approx(turned.a_mm, abs=1e-12),
        pytest.approx(turned.b_mm, abs=1e-12),
    )


@given(gaps, st.permutations(range(4)))
def test_the_order_of_positions_does_not_matter(value, order):
    one = fit_gap(value, position_deg=FOUR)
    other = fit_gap(value[order], position_deg=np.array(FOUR)[order])
    assert (other.a_mm, other.b_mm, other.saddle_mm) == (one.a_mm, one.b_mm, one.saddle_mm)


@given(st.lists(st.integers(8_00, 60_00), min_size=4, max_size=4))
def test_inch_and_millimetre_readings_agree_to_the_last_stored_digit(hundredths_of_thou):
    typed = [Decimal(n) for n in hundredths_of_thou]
    inch = [Length(n.scaleb(-5), Unit.INCH).mm for n in typed]
    thou = [Length(n.scaleb(-2), Unit.THOU).mm for n in typed]
    typed_in_mm = [Length(Decimal(f"{mm:f}"), Unit.MM).mm for mm in inch]
    fits = [
        fit_gap([float(mm) for mm in lengths], position_deg=FOUR)
        for lengths in (inch, thou, typed_in_mm)
    ]
    for name in ("height_mm", "a_mm", "b_mm", "tightest_mm", "side_to_side_mm"):
        assert len({round(getattr(fit, name), 6) for fit in fits}) == 1


def test_three_positions_hold_a_vector_but_no_check_of_it():
    fit = fit_gap([0.5, 0.52, 0.51], position_deg=[0, 120, 240])
    assert fit.kind == "vector"
    assert fit.misfit_rms_mm is None
    assert fit.saddle_mm is None
    np.testing.assert_allclose(gap_at(fit, [0, 120, 240]), [0.5, 0.52, 0.51], atol=1e-12)


def test_half_a_turn_between_neighbours_still_spans():
    assert fit_gap([0.5, 0.51, 0.5], position_deg=[0, 90, 180]).kind == "vector"
    assert fit_gap([0.5, 0.51, 0.5], position_deg=[0, 90, 179]).kind == "height"


@pytest.mark.parametrize("axis", [0, 45, 200])
def test_two_opposite_positions_give_one_component(axis):
    fit = fit_gap([0.56, 0.50], position_deg=[axis, axis + 180])
    assert fit.kind == "component"
    assert fit.height_mm == pytest.approx(0.53)
    toward_axis = 0.03 if axis < 180 else -0.03
    assert fit.component_axis_deg == axis % 180
    assert fit.component_mm == pytest.approx(toward_axis)
    assert fit.tightest_mm == 0.50
    assert fit.a_mm is None
    assert fit.side_to_side_mm is None


@pytest.mark.parametrize(
    ("position", "kind"),
    [([0, 90], "height"), ([0, 30, 60], "height"), ([10, 20, 30, 40], "height"), ([70], "reading")],
)
def test_positions_that_hold_no_tilt_give_a_height_and_no_vector(position, kind):
    fit = fit_gap([0.5] * len(position), position_deg=position)
    assert fit.kind == kind
    assert (fit.height_mm, fit.tightest_mm) == (0.5, 0.5)
    assert fit.unit_height_variance == pytest.approx(1 / len(position))
    assert (fit.a_mm, fit.unit_covariance, fit.component_mm) == (None, None, None)


@pytest.mark.parametrize("position", [[0, 180], [0, 90], [0, 30, 60], [70]])
def test_a_tilt_asked_of_too_few_positions_is_refused(position):
    fit = fit_gap([0.5] * len(position), position_deg=position)
    with pytest.raises(AnglesDoNotSpan, match="0, 90, 180 and 270"):
        require_tilt(fit)
    with pytest.raises(AnglesDoNotSpan):
        gap_at(fit, 45)
    with pytest.raises(AnglesDoNotSpan):
        fit_gaps([[0.5] * len(position)], position_deg=position)


@pytest.mark.parametrize(
    ("value", "position", "refusal"),
    [
        ([0.5, 0.5, math.nan, 0.5], FOUR, NotFinite),
        ([0.5, 0.5, 0.5, 0.5], [0, 90, 180, math.inf], NotFinite),
        ([0.5, 0.5, -0.5, 0.5], FOUR, NegativeLength),
        ([0.5, 0.5, 1e9, 0.5], FOUR, LengthTooLarge),
        ([0.5, 0.5, 0.5, 0.5], [0, 90, 180, 360], BadInput),
        ([0.5, 0.5, 0.5], FOUR, BadInput),
    ],
)
def test_gaps_and_positions_that_cannot_be(value, position, refusal):
    with pytest.raises(refusal):
        fit_gap(value, position_deg=position)


def test_a_job_with_too_few_gaps_is_refused():
    with pytest.raises(BadInput, match="Need 4 gaps a job"):
        fit_gaps([[0.5, 0.5, 0.5]], position_deg=FOUR)


@given(st.floats(-1, 1), st.floats(-1, 1), st.floats(-720, 720))
def test_frames_go_there_and_back(a, b, clocking):
    back = to_fixture_frame(*to_engine_frame(a, b, clocking_deg=clocking), clocking_deg=clocking)
    assert back == (pytest.approx(a, abs=1e-12), pytest.approx(b, abs=1e-12))


def test_engine_direction_is_fixture_direction_plus_clocking():
    # A fixture tilt toward its own 30 degrees, index mark at 90 on the engine: toward 120.
    a, b = to_engine_frame(math.cos(math.radians(30)), 0.5, clocking_deg=90)
    assert math.degrees(math.atan2(b, a)) == pytest.approx(120)


def test_many_vectors_turn_each_by_its_own_clocking():
    turned = to_engine_frame(np.ones(2), np.zeros(2), clocking_deg=np.array([0.0, 90.0]))
    np.testing.assert_allclose(turned.a_mm, [1, 0], atol=1e-15)
    np.testing.assert_allclose(turned.b_mm, [0, 1], atol=1e-15)


def test_a_difference_read_close_in_is_scaled_up():
    assert scaled_to_radius(0.03, radius_mm=10.0) == pytest.approx(0.06)
    with pytest.raises(BadInput, match="more than zero"):
        scaled_to_radius(0.03, radius_mm=0.0)
