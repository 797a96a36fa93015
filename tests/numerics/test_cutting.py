"""Passes, dial readings, speed, feed and finish."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from qc.errors import BadInput, NotFinite
from qc.numerics.cutting import (
    chip_thickness_nose,
    compound_factor,
    depth_from_dial,
    dial_targets,
    feed_for_ra,
    finish_kinematic,
    material_left,
    pass_plan,
    smallest_chip_mm,
    spindle_rpm,
    surface_speed,
)
from tests.reference.cases import TradeCase, trade_cases

SETTINGS = {"rough_max_mm": 0.25, "finish_mm": 0.05, "smallest_chip_mm": 0.02}


@pytest.mark.parametrize("case", trade_cases("pass_plan"))
def test_passes_as_in_the_trade_case(case: TradeCase):
    asked = case.inputs
    plan = pass_plan(
        asked["depth"],
        rough_max_mm=asked["rough_max"],
        finish_mm=asked["finish"],
        smallest_chip_mm=asked["min_last"],
    )
    case.check({"passes": plan.passes_mm, "rough": plan.rough})


@pytest.mark.parametrize(
    ("depth", "passes"),
    [
        (0.05, (0.05,)),
        (0.02, (0.02,)),
        (0.07, (0.02, 0.05)),
        (0.30, (0.25, 0.05)),
        (0.31, (0.13, 0.13, 0.05)),
    ],
)
def test_passes_by_hand(depth, passes):
    assert pass_plan(depth, **SETTINGS).passes_mm == pytest.approx(passes)


@pytest.mark.parametrize(("depth", "why"), [(0.0, "Nothing"), (0.01, "rub")])
def test_no_pass_when_there_is_no_chip_to_take(depth, why):
    plan = pass_plan(depth, **SETTINGS)
    assert plan.passes_mm == ()
    assert why in plan.reason


@given(
    st.integers(1, 3000).map(lambda um: um / 1000),
    st.integers(1, 50).map(lambda um: um / 1000),
    st.integers(0, 100).map(lambda um: um / 1000),
    st.integers(0, 200).map(lambda um: um / 1000),
)
def test_passes_add_up_and_none_is_too_thin_or_too_deep(depth, chip, over_chip, over_finish):
    finish = chip + over_chip
    rough_max = max(finish + over_finish, 2 * chip)
    plan = pass_plan(depth, rough_max_mm=rough_max, finish_mm=finish, smallest_chip_mm=chip)
    if depth < chip - 1e-9:
        assert plan.passes_mm == ()
        return
    assert math.fsum(plan.passes_mm) == pytest.approx(depth, abs=1e-12)
    assert plan.rough == len(plan.passes_mm) - 1
    assert min(plan.passes_mm) >= chip - 1e-9
    assert max(plan.passes_mm) <= max(rough_max, finish + chip) + 1e-9


@pytest.mark.parametrize(
    "wrong", [{"finish_mm": 0.01}, {"finish_mm": 0.3}, {"rough_max_mm": 0.03, "finish_mm": 0.02}]
)
def test_settings_that_no_pass_can_meet_are_refused(wrong):
    with pytest.raises(BadInput, match="must lie between"):
        pass_plan(0.5, **SETTINGS | wrong)


def test_dial_readings_by_hand():
    # Touched off at 2.00 on 0.05 paper; compound moving half its dial: depth 0.2 needs 0.25 / 0.5.
    got = dial_targets((0.2, 0.05), touch_off_mm=2.0, angle_factor=0.5, paper_mm=0.05)
    assert got == pytest.approx((2.5, 2.6))
    assert dial_targets((), touch_off_mm=2.0) == ()


@given(
    st.lists(st.integers(1, 300).map(lambda um: um / 1000), min_size=1, max_size=5),
    st.floats(-50, 50),
    st.floats(0.05, 1.0),
    st.floats(0, 0.2),
)
def test_the_last_dial_reading_gives_back_the_depth(passes, touch_off, factor, paper):
    dials = dial_targets(passes, touch_off_mm=touch_off, angle_factor=factor, paper_mm=paper)
    got = depth_from_dial(dials[-1], touch_off_mm=touch_off, angle_factor=factor, paper_mm=paper)
    assert got == pytest.approx(sum(passes), abs=1e-9)


def test_a_tool_that_stopped_in_the_paper_cut_nothing():
    assert depth_from_dial(2.03, touch_off_mm=2.0, paper_mm=0.05) == pytest.approx(-0.02)


def test_a_compound_swivelled_sixty_degrees_moves_half_its_dial():
    assert compound_factor(60.0) == pytest.approx(0.5)


@pytest.mark.parametrize("factor", [0.0, -1.0, 1.5, math.nan])
def test_an_angle_factor_that_cannot_be(factor):
    with pytest.raises(BadInput):
        depth_from_dial(2.5, touch_off_mm=2.0, angle_factor=factor)


@pytest.mark.parametrize("case", trade_cases("spindle_rpm"))
def test_spindle_speed_as_in_the_trade_case(case: TradeCase):
    case.check(spindle_rpm(case.inputs["v_m_min"], diameter_mm=case.inputs["dia"]))


@pytest.mark.parametrize("case", trade_cases("spindle_rpm_inch"))
def test_the_shop_rule_for_inches_disagrees_with_the_formula(case: TradeCase):
    assert case.disagrees
    metric = spindle_rpm(case.inputs["sfm"] * 0.3048, diameter_mm=case.inputs["dia_in"] * 25.4)
    case.check(metric)
    assert case.expected / metric == pytest.approx(math.pi / 3, rel=1e-9)


@pytest.mark.parametrize("case", trade_cases("surface_speed"))
def test_surface_speed_as_in_the_trade_case(case: TradeCase):
    case.check(surface_speed(case.inputs["rpm"], diameter_mm=case.inputs["dia"]))


@given(st.floats(1, 1000), st.floats(5, 300))
def test_speed_and_turns_go_there_and_back(speed, diameter):
    turns = spindle_rpm(speed, diameter_mm=diameter)
    assert surface_speed(turns, diameter_mm=diameter) == pytest.approx(speed)


@pytest.mark.parametrize("case", trade_cases("finish_kinematic"))
def test_finish_as_in_the_trade_case(case: TradeCase):
    finish = finish_kinematic(case.inputs["feed"], nose_radius_mm=case.inputs["nose_r"])
    case.check({"rt_um": finish.rt_um, "ra_um": finish.ra_um})


def test_kinematic_ra_is_the_mean_departure_of_the_cusps():
    # The cusp over one feed f is the parabola x^2 / 2r; integrated numerically.
    feed, radius = 0.2, 0.8

    def height(x):
        return x**2 / (2 * radius)

    mean = quad(height, -feed / 2, feed / 2)[0] / feed
    crossing = math.sqrt(2 * radius * mean)
    ra = quad(lambda x: abs(height(x) - mean), -feed / 2, feed / 2, points=[-crossing, crossing])
    finish = finish_kinematic(feed, nose_radius_mm=radius)
    assert finish.ra_um == pytest.approx(1000 * ra[0] / feed, rel=1e-9)
    assert finish.rt_um == pytest.approx(1000 * height(feed / 2), rel=1e-12)


@pytest.mark.parametrize("case", trade_cases("feed_for_ra"))
def test_feed_as_in_the_trade_case(case: TradeCase):
    case.check(feed_for_ra(case.inputs["ra_um"], nose_radius_mm=case.inputs["nose_r"]))


@given(st.floats(0.2, 6.0), st.floats(0.2, 1.6))
def test_feed_and_finish_go_there_and_back(ra_um, radius):
    feed = feed_for_ra(ra_um, nose_radius_mm=radius)
    assert finish_kinematic(feed, nose_radius_mm=radius).ra_um == pytest.approx(ra_um)


@pytest.mark.parametrize("case", trade_cases("chip_thickness_nose"))
def test_chip_thickness_as_in_the_trade_case(case: TradeCase):
    case.check(
        chip_thickness_nose(
            case.inputs["feed"],
            depth_mm=case.inputs["depth"],
            nose_radius_mm=case.inputs["nose_r"],
        )
    )


def test_beyond_the_nose_radius_the_chip_is_as_thick_as_the_feed():
    depths = np.linspace(0, 1.0, 21)
    chips = [chip_thickness_nose(0.1, depth_mm=d, nose_radius_mm=0.4) for d in depths]
    assert np.all(np.diff(chips) >= 0)
    assert chips[-1] == 0.1


@pytest.mark.parametrize("case", trade_cases("material_left"))
def test_material_as_in_the_trade_case(case: TradeCase):
    got = material_left(
        case.inputs["flange_now"],
        depth_mm=case.inputs["depth"],
        flange_min_mm=case.inputs["flange_min"],
    )
    case.check({"left": got.left_mm, "spare": got.spare_mm})


@pytest.mark.parametrize("case", trade_cases("min_chip"))
def test_smallest_chip_as_in_the_trade_case(case: TradeCase):
    chip_mm = smallest_chip_mm(case.inputs["edge_radius_um"], ratio=case.inputs["ratio"])
    case.check(chip_mm * 1000)


@pytest.mark.parametrize(
    "call",
    [
        lambda: spindle_rpm(100, diameter_mm=0.0),
        lambda: surface_speed(-1, diameter_mm=60),
        lambda: finish_kinematic(1.0, nose_radius_mm=0.4),
        lambda: feed_for_ra(1.6, nose_radius_mm=0.0),
        lambda: smallest_chip_mm(1e9),
        lambda: pass_plan(1e9, **SETTINGS),
    ],
)
def test_figures_that_cannot_be(call):
    with pytest.raises(BadInput):
        call()


def test_a_dial_reading_that_is_no_number():
    with pytest.raises(NotFinite):
        depth_from_dial(math.nan, touch_off_mm=2.0)
