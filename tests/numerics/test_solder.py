"""Crushes to position values and spread; widths of crushed wire."""

from __future__ import annotations

import math
from dataclasses import asdict

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import (
    BadInput,
    GapWiderThanSolder,
    LengthTooLarge,
    NegativeLength,
    NotFinite,
    TooFewReadings,
)
from qc.numerics.solder import floored_spread, position_values, solder_crush
from tests.reference.cases import TradeCase, trade_cases


def values_of(thickness, position, piece, **more):
    return position_values(
        thickness, position_deg=position, piece=piece, gauge_step_mm=0.01, **more
    )


@pytest.mark.parametrize("case", trade_cases("solder_crush"))
def test_crushed_wire_as_in_the_trade_case(case: TradeCase):
    crush = solder_crush(case.inputs["diameter"], gap_mm=case.inputs["gap"])
    case.check({"ratio": crush.ratio, "width": crush.width_mm})


def test_a_position_is_the_mean_of_its_pieces_thinnest_crushes():
    # By hand: at 0 degrees piece 1 is 0.51 (of 0.53, 0.51), piece 2 is 0.55: mean 0.53. At 180 the
    # only piece is 0.60. Spread: two pieces 0.04 apart have sd 0.04 / sqrt(2), 1 degree of freedom.
    got = values_of([0.60, 0.53, 0.51, 0.55], [180, 0, 360, 0], [1, 1, 1, 2], solder_mm=0.8)
    assert got.position_deg.tolist() == [0.0, 180.0]
    assert got.value_mm == pytest.approx([0.53, 0.60], abs=1e-12)
    assert got.pieces.tolist() == [2, 1]
    assert got.spread_mm == pytest.approx(0.04 / math.sqrt(2), abs=1e-12)
    assert got.spread_df == 1


def test_pieces_with_the_same_number_at_two_positions_are_two_pieces():
    got = values_of([0.5, 0.6], [0, 90], [1, 1])
    assert got.value_mm.tolist() == [0.5, 0.6]


def test_no_position_with_two_pieces_gives_no_spread():
    got = values_of([0.50, 0.49, 0.52], [0, 0, 90], [1, 1, 1])
    assert (got.spread_mm, got.spread_df) == (None, 0)
    assert not got.gauge_too_coarse


def test_equal_pieces_mean_a_coarse_gauge_not_a_spread_of_nothing():
    got = values_of([0.50, 0.50, 0.52, 0.52], [0, 0, 90, 90], [1, 2, 1, 2])
    assert got.spread_mm == 0.0
    assert got.gauge_too_coarse
    assert floored_spread(got.spread_mm, 0.01) == pytest.approx(0.01 / math.sqrt(12))
    assert floored_spread(0.02, 0.01) == 0.02


@pytest.mark.parametrize(("other", "coarse"), [(0.504, True), (0.505, False)])
def test_a_spread_within_the_steps_own_says_nothing(other, coarse):
    # Two pieces 0.004 apart: sd 0.00283, under 0.01 / sqrt(12) = 0.00289; 0.005 apart: 0.00354.
    assert values_of([0.500, other], [0, 0], [1, 2]).gauge_too_coarse is coarse


@given(
    st.lists(
        st.tuples(st.integers(100, 3000), st.sampled_from([0, 90, 180, 270]), st.integers(1, 3)),
        min_size=1,
        max_size=20,
    ),
    st.randoms(use_true_random=False),
)
def test_the_order_of_crushes_does_not_matter(crushes, random):
    shuffled = list(crushes)
    random.shuffle(shuffled)
    one, other = (
        values_of([c[0] / 1000 for c in some], [c[1] for c in some], [c[2] for c in some])
        for some in (crushes, shuffled)
    )
    for name, value in asdict(one).items():
        again = getattr(other, name)
        if name == "piece_mm":
            again, value = np.concatenate(again), np.concatenate(value)
        np.testing.assert_array_equal(again, value, err_msg=name)


@pytest.mark.parametrize(
    ("thickness", "solder", "refusal"),
    [
        ([0.80], 0.80, GapWiderThanSolder),
        ([0.50, 0.90], 0.80, GapWiderThanSolder),
        ([math.nan], None, NotFinite),
        ([math.inf], None, NotFinite),
        ([-0.01], None, NegativeLength),
        ([0.0], None, BadInput),
        ([1e9], None, LengthTooLarge),
        ([50.1], None, LengthTooLarge),
        ([], None, TooFewReadings),
    ],
)
def test_thicknesses_that_cannot_be(thickness, solder, refusal):
    with pytest.raises(refusal):
        values_of(thickness, [0] * len(thickness), [1] * len(thickness), solder_mm=solder)


def test_lengths_that_differ_are_counted_in_the_message():
    with pytest.raises(BadInput, match=r"thickness has 2, position has 1, piece has 2"):
        values_of([0.5, 0.6], [0], [1, 1])


@pytest.mark.parametrize(("diameter", "gap"), [(0.5, 0.5), (0.5, 0.6), (0.5, 0.0), (0.0, 0.1)])
def test_a_wire_no_thicker_than_the_gap_is_not_crushed(diameter, gap):
    with pytest.raises(BadInput):
        solder_crush(diameter, gap_mm=gap)
