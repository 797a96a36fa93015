"""How many pieces settle a verdict, held against judging the same gaps with so many pieces."""

from __future__ import annotations

import pytest

from qc.numerics.results import NextCut
from qc.numerics.target import plan_cut
from qc.numerics.tilt import fit_gap
from qc.numerics.uncertainty import gap_budget
from qc.numerics.verdict import judge
from qc.numerics.verdict.settling import GAUGE, MOST_PIECES, pieces_that_settle

FOUR = [0, 90, 180, 270]
TARGET, TOLERANCE, FLOOR, EVEN, CHIP, GUARD = 0.50, 0.05, 0.42, 0.060, 0.010, 1.645
SHOP = {
    "gauge_calibration_u_mm": 0.001,
    "repeat_sd_mm": 0.010,
    "repeat_df": 4,
    "gasket_u_mm": 0.003,
    "torque_u_mm": 0.003,
    "float_u_mm": 0.003,
}


def budget(pieces, *, step_mm):
    return gap_budget(positions=4, pieces_per_position=pieces, gauge_step_mm=step_mm, **SHOP)


def judged_with(gaps, lines):
    """The verdict's kind, as the shop's own rule gives it."""
    fit = fit_gap(gaps, position_deg=FOUR)
    return judge(
        fit=fit,
        budget=lines,
        target_mm=TARGET,
        tol_minus_mm=TOLERANCE,
        tol_plus_mm=TOLERANCE,
        floor_mm=FLOOR,
        evenness_limit_mm=EVEN,
        guard_factor=GUARD,
        next_cut=next_of(fit),
    ).kind


def next_of(fit):
    plan = plan_cut(
        height_mm=fit.height_mm,
        tightest_mm=fit.tightest_mm,
        gasket_found_mm=0.5,
        gasket_next_mm=0.5,
        target_mm=TARGET,
        floor_mm=FLOOR,
        room_mm=None,
    )
    return NextCut(plan.depth_mm, CHIP, plan.limited_by)


def limits_of(fit):
    following = next_of(fit)
    return {
        "height_mm": fit.height_mm,
        "tightest_mm": fit.tightest_mm,
        "side_to_side_mm": fit.side_to_side_mm,
        "lower_mm": TARGET - TOLERANCE,
        "upper_mm": TARGET + TOLERANCE,
        "floor_mm": FLOOR,
        "evenness_limit_mm": EVEN,
        "next_depth_mm": following.depth_mm,
        "smallest_chip_mm": CHIP,
        "room_mm": following.flange_mm,
    }


def settled(gaps, pieces, *, step_mm=0.01, without=()):
    return pieces_that_settle(
        budget(pieces, step_mm=step_mm).lines,
        pieces=pieces,
        guard_factor=GUARD,
        judged=limits_of(fit_gap(gaps, position_deg=FOUR)),
        without=without,
    )


@pytest.mark.parametrize(
    ("gaps", "pieces"),
    [
        # side to side 0.045 and 0.071, on either side of the limit, and 0.050 from two pieces
        ([0.5225, 0.50, 0.4775, 0.50], 1),
        ([0.5355, 0.50, 0.4645, 0.50], 1),
        ([0.525, 0.50, 0.475, 0.50], 2),
        # height 0.5385
        ([0.5385, 0.5385, 0.5385, 0.5385], 1),
        # two lobes, tightest 0.430
        ([0.505, 0.43, 0.505, 0.43], 1),
    ],
)
def test_the_fewest_pieces_with_which_the_rule_decides(gaps, pieces):
    assert judged_with(gaps, budget(pieces, step_mm=0.01)) == "undecided"
    kinds = [judged_with(gaps, budget(n, step_mm=0.01)) for n in range(pieces + 1, MOST_PIECES + 1)]
    first = next((n for n, one in enumerate(kinds, start=pieces + 1) if one != "undecided"), None)
    assert settled(gaps, pieces) == first


def test_some_are_settled_by_pieces_some_by_a_gauge_and_some_by_neither():
    """Side to side 0.046 is 0.014 under its limit. By hand: repeats and step reach it times root 2
    (four positions); 1.645 x 1.414 x root(0.0100^2 / n + 0.00289^2) is under 0.014 from n = 4 on
    (0.0134, and 0.0150 at 3), with a step of 0.02 at no n up to 6 (0.0165), and without the gauge
    from n = 3 on (0.0134). On the limit nothing helps."""
    near = [0.523, 0.50, 0.477, 0.50]
    assert settled(near, 1) == 4
    assert settled(near, 1, step_mm=0.02) is None
    assert settled(near, 1, step_mm=0.02, without=GAUGE) == 3
    on_it = [0.53, 0.50, 0.47, 0.50]
    assert settled(on_it, 1, without=GAUGE) is None


def test_who_lays_more_than_a_form_has_boxes_for_is_asked_for_no_more():
    assert settled([0.53, 0.50, 0.47, 0.50], MOST_PIECES) is None
