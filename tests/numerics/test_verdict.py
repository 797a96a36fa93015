"""The judgement of a round: what is shown, what is not, and whether another pass would help."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import AnglesDoNotSpan, BadInput, LengthTooLarge, NegativeLength, NotFinite
from qc.numerics.results import Combined, GapBudget, NextCut
from qc.numerics.target import plan_cut
from qc.numerics.tilt import fit_gap
from qc.numerics.verdict import KINDS, judge, judge_many

FOUR = [0, 90, 180, 270]
LIMITS = {
    "target_mm": 0.50,
    "tol_minus_mm": 0.03,
    "tol_plus_mm": 0.03,
    "floor_mm": 0.42,
    "evenness_limit_mm": 0.060,
}
CHIP_MM = 0.015


def budget_with(height=0.004, tightest=0.006, side_to_side=0.008):
    """A budget that holds nothing but its totals; guard bands are 1.645 times these."""
    totals = (
        None if u is None else Combined(u_mm=u, df=None, k=1.96, expanded_mm=1.96 * u)
        for u in (height, side_to_side, tightest)
    )
    return GapBudget((), *totals)


def verdict_of(value, *, position=FOUR, room_mm=None, budget=None, guard_factor=1.645, **changed):
    limits = LIMITS | changed
    fit = fit_gap(value, position_deg=position)
    plan = plan_cut(
        height_mm=fit.height_mm,
        tightest_mm=fit.tightest_mm,
        gasket_found_mm=0.5,
        gasket_next_mm=0.5,
        target_mm=limits["target_mm"],
        floor_mm=limits["floor_mm"],
        room_mm=room_mm,
    )
    if budget is None:
        budget = budget_with(side_to_side=None if fit.side_to_side_mm is None else 0.008)
    next_cut = NextCut(plan.depth_mm, CHIP_MM, plan.limited_by, room_mm=room_mm)
    return judge(fit=fit, budget=budget, next_cut=next_cut, guard_factor=guard_factor, **limits)


@pytest.mark.parametrize(
    ("value", "room_mm", "kind", "helps"),
    [
        # height 0.500, tightest 0.490, side to side 0.020: all inside.
        ([0.50, 0.51, 0.50, 0.49], None, "accept", False),
        # height 0.600: 0.100 to go, a chip of 0.015 fits.
        ([0.60, 0.60, 0.60, 0.60], None, "cut_again", True),
        # the same, and the flange has 0.010 left.
        ([0.60, 0.60, 0.60, 0.60], 0.010, "undecided", False),
        # height 0.565 in two lobes, lowest 0.430: the floor leaves 0.010.
        ([0.70, 0.43, 0.70, 0.43], None, "undecided", False),
        # height 0.525: over 0.530 less its guard 0.0066, and 0.025 to go.
        ([0.525, 0.525, 0.525, 0.525], None, "undecided", True),
        # height 0.475: under 0.470 plus its guard; nothing to cut.
        ([0.475, 0.475, 0.475, 0.475], None, "undecided", False),
        # height 0.460: under 0.470 less its guard.
        ([0.46, 0.46, 0.46, 0.46], None, "reject", False),
        # height 0.500, tightest 0.40: under 0.42 less its guard 0.0099.
        ([0.50, 0.60, 0.50, 0.40], None, "reject", False),
        # side to side 0.100; levelling would leave 0.450, low.
        ([0.55, 0.50, 0.45, 0.50], None, "reject", False),
        # side to side 0.080, height 0.515; levelling would leave 0.475.
        ([0.555, 0.515, 0.475, 0.515], None, "undecided", True),
        # the same with 0.050 of flange where 0.080 is wanted at the wide side.
        ([0.555, 0.515, 0.475, 0.515], 0.050, "reject", False),
        # side to side 0.055: under 0.060, inside its guard 0.013.
        ([0.5275, 0.50, 0.4725, 0.50], None, "undecided", False),
    ],
)
def test_verdicts_by_hand(value, room_mm, kind, helps):
    verdict = verdict_of(value, room_mm=room_mm)
    assert (verdict.kind, verdict.another_pass_helps) == (kind, helps)


def test_an_acceptance_names_all_three_results():
    verdict = verdict_of([0.50, 0.51, 0.50, 0.49])
    assert len(verdict.reasons) == 3
    assert "height of 0.500 mm is inside 0.470 mm to 0.530 mm" in verdict.reasons[0]
    assert "tightest gap of 0.490 mm" in verdict.reasons[1]
    assert "side-to-side difference of 0.020 mm, wide toward 90 degrees" in verdict.reasons[2]


def test_reasons_for_cutting_again_say_how_far_over():
    verdict = verdict_of([0.60, 0.60, 0.60, 0.60])
    assert verdict.reasons == (
        "The height of 0.600 mm is above 0.530 mm by more than its guard band of 0.007 mm.",
    )
    assert verdict.another_pass_reason == ("A cut of 0.100 mm would bring the height to 0.500 mm.")


def test_a_cut_that_would_stay_uneven_says_so():
    verdict = verdict_of([0.70, 0.60, 0.50, 0.60])
    assert verdict.kind == "cut_again"
    assert "as far as the floor allows" in verdict.another_pass_reason
    assert "indicated again" in verdict.another_pass_reason


@pytest.mark.parametrize(
    ("value", "room_mm", "why"),
    [
        ([0.60, 0.60, 0.60, 0.60], 0.010, "left to the flange"),
        ([0.70, 0.43, 0.70, 0.43], None, "left to the floor"),
        ([0.46, 0.46, 0.46, 0.46], None, "too narrow already"),
        ([0.55, 0.50, 0.45, 0.50], None, "below its lower limit"),
        ([0.555, 0.515, 0.475, 0.515], 0.050, "the flange leaves 0.050 mm"),
        ([0.555, 0.515, 0.475, 0.515], None, "levelling cut of 0.080 mm"),
        ([0.475, 0.475, 0.475, 0.475], None, "no more off"),
    ],
)
def test_why_another_pass_would_or_would_not_help(value, room_mm, why):
    assert why in verdict_of(value, room_mm=room_mm).another_pass_reason


def test_levelling_may_help_where_the_floor_leaves_no_even_cut():
    # Height 0.540, side to side 0.140, tightest 0.470: 0.005 over this floor.
    verdict = verdict_of([0.61, 0.54, 0.47, 0.54], floor_mm=0.465)
    assert (verdict.kind, verdict.another_pass_helps) == ("undecided", True)
    assert "levelling cut of 0.140 mm" in verdict.another_pass_reason


def test_levelling_that_leaves_the_height_below_its_limit_is_no_help():
    # Height 0.525, side to side 0.111: half of it off leaves 0.4695, under 0.480. Its guard is
    # 1.645 x 0.0075 = 0.0123, so 0.4695 is not shown to be under 0.480: no reject.
    readings = [0.525, 0.5805, 0.525, 0.4695]
    limits = {"target_mm": 0.53, "tol_minus_mm": 0.05, "tol_plus_mm": 0.05, "floor_mm": 0.45}
    wide = budget_with(height=0.0075)
    verdict = verdict_of(readings, budget=wide, **limits)
    assert (verdict.kind, verdict.another_pass_helps) == ("undecided", False)
    assert verdict.another_pass_reason == (
        "Levelling would leave the height near 0.469 mm, below its lower limit."
    )
    # With 0.469 as the lower limit the same cut leaves 0.0005 over it.
    mended = verdict_of(readings, budget=wide, **limits | {"tol_minus_mm": 0.061})
    assert (mended.kind, mended.another_pass_helps) == ("undecided", True)
    assert "levelling cut of 0.111 mm" in mended.another_pass_reason


def test_levelling_is_no_help_where_the_tight_side_is_under_the_floor_already():
    # Height 0.500, side to side 0.090, and 0.040 lower at 0 and 180 degrees: tightest 0.415,
    # 0.005 under the floor and inside its guard of 0.0099. Levelling would leave 0.455.
    readings = [0.505, 0.54, 0.415, 0.54]
    verdict = verdict_of(readings, tol_minus_mm=0.05)
    assert (verdict.kind, verdict.another_pass_helps) == ("undecided", False)
    assert verdict.another_pass_reason == (
        "Levelling leaves the tight side as it is, at 0.415 mm, under the floor of 0.420 mm."
    )
    lower_floor = verdict_of(readings, tol_minus_mm=0.05, floor_mm=0.41)
    assert (lower_floor.kind, lower_floor.another_pass_helps) == ("undecided", True)


@pytest.mark.parametrize(
    ("difference", "kind", "helps"),
    # Height 0.600, far over 0.530; levelled to 0.475, to 0.465 and to 0.460. The lower limit is
    # 0.470, its guard 0.0066.
    [(0.250, "cut_again", True), (0.270, "undecided", False), (0.280, "reject", False)],
)
def test_a_high_job_too_uneven_to_level_is_not_cut_again(difference, kind, helps):
    readings = [0.6, 0.6 + difference / 2, 0.6, 0.6 - difference / 2]
    verdict = verdict_of(readings)
    assert (verdict.kind, verdict.another_pass_helps) == (kind, helps)


@given(st.lists(st.integers(350, 750).map(lambda um: um / 1000), min_size=4, max_size=4))
def test_another_pass_never_helps_where_levelling_leaves_too_little(value):
    verdict, fit = verdict_of(value), fit_gap(value, position_deg=FOUR)
    uneven = fit.side_to_side_mm > 0.060 + verdict.guard_evenness_mm + 1e-6
    left = fit.height_mm - fit.side_to_side_mm / 2
    if uneven and (left < 0.470 - 1e-6 or fit.tightest_mm < 0.42 - 1e-6):
        assert not verdict.another_pass_helps
        assert verdict.kind != "cut_again"


def test_an_edge_that_cuts_anything_still_needs_something_to_cut():
    # Height 0.560 in two lobes, lowest on the floor.
    fit = fit_gap([0.70, 0.42, 0.70, 0.42], position_deg=FOUR)
    next_cut = NextCut(0.0, 0.0, "floor")
    verdict = judge(fit=fit, budget=budget_with(), next_cut=next_cut, **LIMITS)
    assert (verdict.kind, verdict.another_pass_helps) == ("undecided", False)


def test_a_step_left_to_the_target_that_the_edge_cannot_take():
    wide = budget_with(height=0.015)
    verdict = verdict_of([0.51, 0.51, 0.51, 0.51], budget=wide)
    assert (verdict.kind, verdict.another_pass_helps) == ("undecided", False)
    assert "left to the target, under the smallest chip" in verdict.another_pass_reason


def test_a_plan_limited_by_material_tells_the_room_where_none_is_given():
    uneven = fit_gap([0.555, 0.515, 0.475, 0.515], position_deg=FOUR)
    verdict = judge(
        fit=uneven,
        budget=budget_with(),
        next_cut=NextCut(0.010, CHIP_MM, "material"),
        **LIMITS,
    )
    assert verdict.kind == "reject"


@pytest.mark.parametrize(
    ("value", "kind"),
    [([0.50, 0.51], "undecided"), ([0.60, 0.61], "cut_again"), ([0.40, 0.40], "reject")],
)
def test_two_opposite_positions_never_show_evenness(value, kind):
    verdict = verdict_of(value, position=[0, 180])
    assert verdict.kind == kind
    assert (verdict.probability_evenness, verdict.guard_evenness_mm) == (None, None)
    reason = verdict.reasons[-1]
    assert "Along 0 degrees alone" in reason
    assert "0, 90, 180 and 270 degrees would show it" in reason


@pytest.mark.parametrize("value", [0.30, 0.50, 0.90])
def test_one_position_is_always_undecided(value):
    verdict = verdict_of([value], position=[30])
    assert verdict.kind == "undecided"
    assert not verdict.another_pass_helps
    assert "rests on one position" in verdict.reasons[0]
    assert "four positions" in verdict.another_pass_reason


def test_a_low_single_reading_still_says_that_it_is_under_the_floor():
    assert any("under the floor" in r for r in verdict_of([0.30], position=[30]).reasons)


def test_a_tolerance_no_reading_can_meet_is_named_as_such():
    verdict = verdict_of([0.50, 0.50, 0.50, 0.50], budget=budget_with(height=0.02))
    assert verdict.kind == "undecided"
    assert "leave no room" in verdict.reasons[0]


@pytest.mark.parametrize(
    ("height", "kind"),
    [
        (0.53 - 1.645 * 0.004, "accept"),
        (0.53 - 1.645 * 0.004 + 2e-6, "undecided"),
        (0.53 + 1.645 * 0.004, "undecided"),
        (0.53 + 1.645 * 0.004 + 2e-6, "cut_again"),
        (0.47 + 1.645 * 0.004, "accept"),
        (0.47 - 1.645 * 0.004, "undecided"),
        (0.47 - 1.645 * 0.004 - 2e-6, "reject"),
    ],
)
def test_a_reading_on_the_edge_of_a_guard_band(height, kind):
    assert verdict_of([height] * 4).kind == kind


@pytest.mark.parametrize("side", [-1, 1])
def test_a_reading_typed_as_the_limit_lies_on_it_whatever_the_binary_digits(side):
    target_um = np.arange(300, 900)
    rows = np.repeat((target_um + side * 30)[:, None] / 1000, 4, axis=1)
    certain = budget_with(height=0.0, tightest=0.0, side_to_side=0.0)
    codes = judge_many(
        rows,
        position_deg=FOUR,
        guard_height_mm=0.0,
        guard_tightest_mm=0.0,
        guard_evenness_mm=0.0,
        smallest_chip_mm=CHIP_MM,
        **LIMITS | {"target_mm": target_um / 1000, "floor_mm": 0.2},
    )
    assert {KINDS[code] for code in codes} == {"accept"}
    for um, row in zip(target_um[::20], rows[::20], strict=True):
        alone = verdict_of(row, budget=certain, target_mm=um / 1000, floor_mm=0.2)
        assert alone.kind == "accept"


def test_probabilities_are_those_of_a_normal_reading():
    # From a normal table: Phi(1) = 0.841345, Phi(2) = 0.977250.
    verdict = verdict_of(
        [0.526] * 4,
        floor_mm=0.514,
        target_mm=0.52,
        tol_plus_mm=0.01,
        budget=budget_with(height=0.004, tightest=0.006),
    )
    assert verdict.probability_height == pytest.approx(0.841345, abs=1e-5)
    assert verdict.probability_tightest == pytest.approx(0.977250, abs=1e-5)
    assert verdict.probability_evenness == pytest.approx(1.0, abs=1e-9)
    assert verdict.guard_height_mm == pytest.approx(1.645 * 0.004)


def test_the_rule_is_stated_with_its_factor_and_probability():
    rule = verdict_of([0.5] * 4).rule
    assert "1.645 standard uncertainties (95% one-sided)" in rule
    assert "Otherwise undecided" in rule


micrometres = st.integers(350, 750).map(lambda um: um / 1000)
readings = st.lists(micrometres, min_size=4, max_size=4)


@given(readings)
def test_an_acceptance_is_likely_right_in_every_result(value):
    verdict = verdict_of(value)
    if verdict.kind == "accept":
        assert verdict.probability_height >= 0.90
        assert verdict.probability_tightest >= 0.95
        assert verdict.probability_evenness >= 0.95
        assert not verdict.another_pass_helps


@given(readings, st.integers(0, 359))
def test_the_verdict_does_not_depend_on_where_zero_is(value, by):
    turned = verdict_of(value, position=[at + by for at in FOUR])
    assert turned.kind == verdict_of(value).kind


@given(readings, st.floats(0.0, 3.0))
def test_a_surer_measurement_never_undoes_an_acceptance(value, factor):
    if verdict_of(value, guard_factor=3.0).kind == "accept":
        assert verdict_of(value, guard_factor=factor).kind == "accept"


@given(st.lists(readings, min_size=1, max_size=40), st.sampled_from([0.0, 0.02, 0.08, math.inf]))
def test_many_jobs_at_once_are_each_job_alone(rows, room):
    codes = judge_many(
        rows,
        position_deg=FOUR,
        guard_height_mm=1.645 * 0.004,
        guard_tightest_mm=1.645 * 0.006,
        guard_evenness_mm=1.645 * 0.008,
        smallest_chip_mm=CHIP_MM,
        room_mm=room,
        **LIMITS,
    )
    alone = [verdict_of(row, room_mm=None if room == math.inf else room).kind for row in rows]
    assert [KINDS[code] for code in codes] == alone


def test_each_of_many_jobs_may_have_limits_of_its_own():
    codes = judge_many(
        np.full((40_000, 4), 0.5),
        position_deg=FOUR,
        guard_height_mm=0.006,
        guard_tightest_mm=0.01,
        guard_evenness_mm=0.01,
        smallest_chip_mm=CHIP_MM,
        **LIMITS | {"target_mm": np.repeat([0.5, 0.42, 0.6], [20_000, 10_000, 10_000])},
    )
    kinds, counts = np.unique(codes, return_counts=True)
    assert {KINDS[k]: int(n) for k, n in zip(kinds, counts, strict=True)} == {
        "accept": 20_000,
        "cut_again": 10_000,
        "reject": 10_000,
    }


def test_many_jobs_at_positions_that_hold_no_tilt_are_refused():
    with pytest.raises(AnglesDoNotSpan):
        judge_many(
            [[0.5, 0.5]],
            position_deg=[0, 180],
            guard_height_mm=0.006,
            guard_tightest_mm=0.01,
            guard_evenness_mm=0.01,
            smallest_chip_mm=CHIP_MM,
            **LIMITS,
        )


@pytest.mark.parametrize("name", LIMITS)
@pytest.mark.parametrize(
    ("value", "refusal"), [(math.nan, NotFinite), (-0.1, NegativeLength), (1e9, LengthTooLarge)]
)
def test_limits_that_cannot_be(name, value, refusal):
    fit = fit_gap([0.5] * 4, position_deg=FOUR)
    with pytest.raises(refusal):
        judge(
            fit=fit,
            budget=budget_with(),
            next_cut=NextCut(0.0, CHIP_MM, "none"),
            **LIMITS | {name: value},
        )


def test_a_budget_of_other_positions_is_refused():
    with pytest.raises(BadInput, match="other clock positions"):
        verdict_of([0.5] * 4, budget=replace(budget_with(), side_to_side=None))
