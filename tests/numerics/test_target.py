"""Depth of cut from what was found, and which limit sets it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import BadInput, LengthTooLarge, NegativeLength, NotFinite, TargetUnderFloor
from qc.numerics.target import gap_errors, plan_cut, predicted_gap, room_on_flange
from tests.reference.cases import TradeCase, trade_cases

FOUND = {
    "height_mm": 1.02,
    "tightest_mm": 0.99,
    "gasket_found_mm": 0.50,
    "gasket_next_mm": 0.50,
    "target_mm": 0.50,
    "floor_mm": 0.42,
}


@pytest.mark.parametrize("case", trade_cases("cut_depth"))
def test_depth_as_in_the_trade_case(case: TradeCase):
    found = case.inputs
    plan = plan_cut(
        height_mm=found["mean_found"],
        tightest_mm=found["min_found"],
        gasket_found_mm=found.get("gasket_old", 0.0),
        gasket_next_mm=found.get("gasket_new", 0.0),
        target_mm=found["target_mean"],
        floor_mm=found["floor_min"],
        room_mm=found.get("max_cut"),
    )
    case.check(
        {
            "depth": plan.depth_mm,
            "limited_by": plan.limited_by,
            "mean_after": plan.height_after_mm,
            "min_after": plan.tightest_after_mm,
        }
    )


def test_the_target_sets_the_depth_without_a_reason():
    plan = plan_cut(**FOUND)
    assert (plan.limited_by, plan.reason) == ("target", "")
    assert plan.depth_mm == pytest.approx(0.52)


def test_a_thinner_gasket_takes_its_part_of_the_depth():
    # 1.00 found, 0.25 less gasket, target 0.52: 0.23 to cut.
    plan = plan_cut(**FOUND | {"height_mm": 1.0, "gasket_next_mm": 0.25, "target_mm": 0.52})
    assert plan.depth_mm == pytest.approx(0.23)


def test_the_floor_wins_and_says_what_height_it_leaves():
    plan = plan_cut(**FOUND | {"tightest_mm": 0.90})
    assert (plan.limited_by, plan.depth_mm) == ("floor", pytest.approx(0.48))
    assert "floor stops the cut at 0.480 mm" in plan.reason
    assert "0.040 mm over target" in plan.reason


def test_the_flange_wins_and_says_so():
    plan = plan_cut(**FOUND, room_mm=0.30)
    assert (plan.limited_by, plan.depth_mm) == ("material", 0.30)
    assert "flange allows only 0.300 mm" in plan.reason
    assert "0.220 mm over target" in plan.reason


@pytest.mark.parametrize("room", [0.0, -0.1])
def test_a_flange_at_its_minimum_allows_no_cut(room):
    plan = plan_cut(**FOUND, room_mm=room)
    assert (plan.limited_by, plan.depth_mm) == ("material", 0.0)


def test_a_gap_under_target_is_not_cut_and_a_low_tightest_point_is_named():
    plan = plan_cut(**FOUND | {"height_mm": 0.48, "tightest_mm": 0.40})
    assert (plan.limited_by, plan.depth_mm) == ("none", 0.0)
    assert "0.020 mm under the floor" in plan.reason


def test_when_target_and_floor_agree_the_target_is_named():
    # In binary 1.1 - 0.5 comes out a last digit over 1.0 - 0.4; on paper both are 0.6.
    agree = {"height_mm": 1.1, "tightest_mm": 1.0, "target_mm": 0.5, "floor_mm": 0.4}
    assert 1.1 - 0.5 > 1.0 - 0.4
    assert plan_cut(**FOUND | agree).limited_by == "target"


def test_a_target_under_the_floor_is_refused():
    with pytest.raises(TargetUnderFloor, match=r"0.410 mm is under the floor of 0.420 mm"):
        plan_cut(**FOUND | {"target_mm": 0.41})


@pytest.mark.parametrize("name", FOUND)
@pytest.mark.parametrize(
    ("value", "refusal"), [(math.nan, NotFinite), (-0.1, NegativeLength), (1e9, LengthTooLarge)]
)
def test_lengths_that_cannot_be(name, value, refusal):
    with pytest.raises(refusal):
        plan_cut(**FOUND | {name: value})


lengths = st.integers(0, 3000).map(lambda um: um / 1000)


@given(lengths, lengths, lengths, lengths, st.none() | lengths)
def test_no_plan_goes_under_floor_or_past_target_or_flange(height, below, target, floor, room):
    tightest = max(0.0, height - below)
    target = max(target, floor)
    plan = plan_cut(
        height_mm=height,
        tightest_mm=tightest,
        gasket_found_mm=0.0,
        gasket_next_mm=0.0,
        target_mm=target,
        floor_mm=floor,
        room_mm=room,
    )
    assert plan.depth_mm >= 0
    assert plan.depth_mm == 0 or plan.height_after_mm >= target - 1e-9
    assert plan.depth_mm == 0 or plan.tightest_after_mm >= floor - 1e-9
    assert room is None or plan.depth_mm <= room
    assert plan.height_after_mm == pytest.approx(height - plan.depth_mm)


@given(st.lists(lengths, min_size=1, max_size=8), lengths, lengths, lengths, lengths)
def test_a_deeper_cut_never_raises_the_predicted_gap(found, gasket_found, gasket_next, one, two):
    def after(depth):
        return predicted_gap(
            found, gasket_found_mm=gasket_found, gasket_next_mm=gasket_next, depth_mm=depth
        )

    assert np.all(after(max(one, two)) <= after(min(one, two)))


def test_predicted_gaps_by_hand():
    got = predicted_gap([1.02, 0.99], gasket_found_mm=0.5, gasket_next_mm=0.4, depth_mm=0.3)
    np.testing.assert_allclose(got, [0.62, 0.59], atol=1e-12)


def test_room_counts_what_was_cut_since_the_flange_was_measured():
    assert room_on_flange(7.0, flange_min_mm=5.5, cut_since_mm=0.52) == pytest.approx(0.98)
    assert room_on_flange(5.4, flange_min_mm=5.5) == pytest.approx(-0.1)


def test_errors_are_positive_when_the_gap_came_out_wider():
    errors = gap_errors(0.53, predicted_mm=0.51, target_mm=0.50)
    assert errors.height_error_mm == pytest.approx(0.02)
    assert errors.target_error_mm == pytest.approx(0.03)
    assert gap_errors(0.53, predicted_mm=None, target_mm=0.50).height_error_mm is None


def test_a_negative_depth_is_refused():
    with pytest.raises(BadInput):
        predicted_gap([1.0], gasket_found_mm=0, gasket_next_mm=0, depth_mm=-0.1)
