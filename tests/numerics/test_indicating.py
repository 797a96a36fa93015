"""Axis tilt from two circles, taps on jaws, the shift on tightening, and the shop's limit."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import BadInput, LengthTooLarge, NegativeLength, NotFinite
from qc.numerics.axis_tilt import axis_tilt
from qc.numerics.carry_through import Share
from qc.numerics.dial import indicating_uncertainty
from qc.numerics.indicating import (
    THREE_JAWS,
    judge_indicated,
    tap_to_centre,
    taps_for_two_planes,
    tightening_shift,
)
from qc.numerics.runout import Eccentricity
from tests.numerics.trade import numbered_cases

amounts = st.floats(0, 0.2)
clock = st.floats(0, 359.9)


def vector(offset):
    return complex(offset.x_mm, offset.y_mm)


def base(near, far, **more):
    given = {"apart_mm": 50, "face_diameter_mm": 64, "measuring_radius_mm": 19.4, **more}
    return axis_tilt(near, far, **given)


@pytest.mark.parametrize("case", numbered_cases("two_plane"))
def test_tilt_from_two_circles(case):
    given = case.inputs
    got = base(
        Eccentricity.toward(given["high1"], given["ecc1"]),
        Eccentricity.toward(given["high2"], given["ecc2"]),
        apart_mm=given["sep"],
        to_face_mm=given["project"],
        face_diameter_mm=given["face_dia"],
    )
    case.check(
        {
            "tilt_mrad": got.amount_mrad,
            "tilt_deg_dir": got.toward_deg,
            "ecc_projected": got.at_face.amount_mm,
            "squareness": got.face_runout_mm,
        }
    )


@pytest.mark.parametrize("case", numbered_cases("tap"))
def test_tap(case):
    got = tap_to_centre(Eccentricity.toward(case.inputs["high_deg"], case.inputs["ecc"]))
    case.check({"move": got.move_mm, "toward_deg": got.toward_deg, "x": got.x_mm, "y": got.y_mm})


@pytest.mark.parametrize("case", numbered_cases("vector_change"))
def test_shift_on_tightening(case):
    given = case.inputs
    got = tightening_shift(
        Eccentricity.toward(given["high1"], given["ecc1"]),
        Eccentricity.toward(given["high2"], given["ecc2"]),
    )
    case.check(got.moved_mm)
    # The same TIR before and after would have called this no move at all.
    assert got.tir_change_mm == pytest.approx(0, abs=1e-12)


@given(one=amounts, other=amounts, at=clock, then=clock)
def test_tilt_agrees_with_complex_arithmetic(one, other, at, then):
    near, far = Eccentricity.toward(at, one), Eccentricity.toward(then, other)
    got = base(near, far, to_face_mm=20)
    lean = (cmath.rect(other, math.radians(then)) - cmath.rect(one, math.radians(at))) / 50
    assert complex(got.x_mrad, got.y_mrad) == pytest.approx(1000 * lean, abs=1e-9)
    on_base = cmath.rect(other, math.radians(then)) + 20 * lean
    assert vector(got.at_face) == pytest.approx(on_base, abs=1e-12)
    assert got.gap_bound_mm == pytest.approx(abs(lean) * 38.8, abs=1e-12)


def test_the_wide_side_agrees_with_a_cylinder_cut_leaning():
    # A bore leaning toward 70 degrees as it comes out, its base faced square to the spindle.
    near, far = Eccentricity(0, 0), Eccentricity.toward(70, 0.05)
    got = base(near, far)
    axis = np.array([far.x_mm, far.y_mm, 50.0])
    axis /= np.linalg.norm(axis)
    phi = np.radians(np.arange(360.0))
    rim = np.column_stack([19.4 * np.cos(phi), 19.4 * np.sin(phi), np.zeros(360)])
    length = rim @ axis  # along the bore, from a plane fixed in the cylinder to its new base
    assert np.ptp(length) == pytest.approx(got.gap_bound_mm, rel=1e-4)
    assert got.toward_deg == pytest.approx(float(np.argmax(length)), abs=0.5)


@given(turn=clock, one=amounts, other=amounts, at=clock, then=clock)
def test_turning_the_clock_turns_the_tilt_only(turn, one, other, at, then):
    plain = base(Eccentricity.toward(at, one), Eccentricity.toward(then, other))
    turned = base(Eccentricity.toward(at + turn, one), Eccentricity.toward(then + turn, other))
    assert turned.amount_mrad == pytest.approx(plain.amount_mrad, abs=1e-9)
    expected = complex(plain.x_mrad, plain.y_mrad) * cmath.rect(1, math.radians(turn))
    assert complex(turned.x_mrad, turned.y_mrad) == pytest.approx(expected, abs=1e-9)


def test_an_offset_without_a_lean_leaves_the_base_square():
    got = base(Eccentricity(0.1, 0.05), Eccentricity(0.1, 0.05))
    assert got.face_runout_mm == 0
    assert got.gap_bound_mm == 0
    assert got.toward_deg is None


def test_equal_swings_at_different_clocks_still_lean():
    got = base(Eccentricity.toward(0, 0.01), Eccentricity.toward(180, 0.01))
    assert got.amount_mrad == pytest.approx(0.4)
    assert got.toward_deg == pytest.approx(180)


def test_half_a_thou_over_two_inches():
    # 0.0005 in more TIR over 50 mm: 0.127 mrad, 0.008 over 64 and 0.005 over 43 mm (computed).
    got = base(Eccentricity(0, 0), Eccentricity(0.0127 / 2, 0), measuring_radius_mm=21.6)
    assert got.amount_mrad == pytest.approx(0.127)
    assert got.face_runout_mm == pytest.approx(0.008, abs=5e-4)
    assert got.gap_bound_mm == pytest.approx(0.0055, abs=1e-4)


def test_the_dial_step_carries_through_to_the_gap():
    u = indicating_uncertainty(0.0127, readings=8, apart_mm=50, span_mm=43.2)
    near, far = Eccentricity(0, 0), Eccentricity(0.005, 0)
    got = base(near, far, measuring_radius_mm=21.6, u_component_mm=u.u_component_mm)
    assert got.u_component_mrad == pytest.approx(u.u_tilt_mrad)
    assert got.u_gap_bound_mm == pytest.approx(u.u_span_mm)
    assert not got.is_resolved
    clear = base(near, Eccentricity(0.02, 0), u_component_mm=u.u_component_mm)
    assert clear.is_resolved


def test_uncertainty_at_the_base_agrees_with_made_up_circles():
    rng = np.random.default_rng(3)
    noise = rng.normal(0, 0.002, (20000, 4))
    got = base(Eccentricity(0, 0), Eccentricity(0.01, 0), to_face_mm=20, u_component_mm=0.002)
    at_face = noise[:, 2] + (noise[:, 2] - noise[:, 0]) * 20 / 50
    assert at_face.std() == pytest.approx(got.u_at_face_mm, rel=0.02)


def test_the_shops_own_share_of_the_bound():
    near, far = Eccentricity(0, 0), Eccentricity(0.02, 0)
    assert base(near, far).gap_expected_mm is None
    got = base(near, far, u_component_mm=0.001, carried=Share(0.6, 0.1))
    assert got.gap_expected_mm == pytest.approx(0.6 * got.gap_bound_mm)
    assert got.u_gap_expected_mm == pytest.approx(
        math.hypot(0.6 * got.u_gap_bound_mm, 0.1 * got.gap_bound_mm)
    )


@given(amount=amounts, high=clock, jaws=st.sampled_from([3, 4, 6]), first=clock)
def test_jaw_moves_add_up_to_the_tap(amount, high, jaws, first):
    at = first + np.arange(jaws) * 360 / jaws
    tap = tap_to_centre(Eccentricity.toward(high, amount), jaws_deg=at)
    total = sum(cmath.rect(jaw.move_mm, math.radians(jaw.jaw_deg)) for jaw in tap.jaws)
    assert total * 2 / jaws == pytest.approx(complex(tap.x_mm, tap.y_mm), abs=1e-12)
    assert sum(jaw.move_mm for jaw in tap.jaws) == pytest.approx(0, abs=1e-12)
    centred = Eccentricity.toward(high, amount)
    assert vector(centred) + complex(tap.x_mm, tap.y_mm) == pytest.approx(0, abs=1e-12)


def test_four_jaws_work_in_pairs():
    tap = tap_to_centre(Eccentricity.toward(40, 0.0127))
    moves = {jaw.jaw_deg: jaw.move_mm for jaw in tap.jaws}
    assert moves[0.0] == pytest.approx(-0.009729, abs=1e-6)
    assert moves[180.0] == pytest.approx(0.009729, abs=1e-6)
    assert moves[90.0] == pytest.approx(-0.008163, abs=1e-6)
    assert tap.strike_deg == pytest.approx(40)


def test_three_jaws_share_it():
    tap = tap_to_centre(Eccentricity.toward(0, 0.01), jaws_deg=THREE_JAWS)
    assert [jaw.move_mm for jaw in tap.jaws] == pytest.approx([-0.01, 0.005, 0.005])


def test_nothing_to_tap():
    tap = tap_to_centre(Eccentricity(0, 0))
    assert tap.move_mm == 0
    assert tap.toward_deg is None
    assert tap.strike_deg is None


def test_two_taps_make_both_circles_true():
    near, far = Eccentricity.toward(20, 0.03), Eccentricity.toward(200, 0.01)
    first, second = taps_for_two_planes(near, far)
    move, swing = complex(first.x_mm, first.y_mm), complex(second.x_mm, second.y_mm)
    assert vector(near) + move == pytest.approx(0, abs=1e-15)
    assert vector(far) + move + swing == pytest.approx(0, abs=1e-15)


@pytest.mark.parametrize("jaws", [(0, 180), (0, 60, 120)])
def test_jaws_that_do_not_surround_the_work(jaws):
    with pytest.raises(BadInput, match="three or more jaws"):
        tap_to_centre(Eccentricity(0.01, 0), jaws_deg=jaws)


def test_a_shift_is_a_vector_with_a_direction():
    got = tightening_shift(Eccentricity(0.01, 0), Eccentricity(0.01, 0.02), u_component_mm=0.002)
    assert got.toward_deg == pytest.approx(90)
    assert got.u_component_mm == pytest.approx(0.002 * math.sqrt(2))
    assert got.is_resolved
    still = tightening_shift(Eccentricity(0.01, 0), Eccentricity(0.01, 0.005), u_component_mm=0.002)
    assert not still.is_resolved
    assert tightening_shift(Eccentricity(0.01, 0), Eccentricity(0.01, 0)).toward_deg is None


@pytest.mark.parametrize(
    ("value", "u", "judged"),
    [
        (0.0127, 0.0, "within"),
        (0.0128, 0.0, "over"),
        (0.004, 0.005, "within"),
        (0.010, 0.005, "cannot tell"),
        (0.020, 0.005, "cannot tell"),
        (0.022, 0.005, "over"),
    ],
)
def test_half_a_thou_as_the_limit(value, u, judged):
    assert judge_indicated(value, u_mm=u) == judged


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"apart_mm": 0}, BadInput),
        ({"apart_mm": float("nan")}, NotFinite),
        ({"apart_mm": 1e9}, LengthTooLarge),
        ({"to_face_mm": -1}, NegativeLength),
        ({"measuring_radius_mm": 0}, BadInput),
    ],
)
def test_distances_that_cannot_be(change, error):
    with pytest.raises(error):
        base(Eccentricity(0, 0), Eccentricity(0.01, 0), **change)


def test_a_high_spot_that_cannot_be():
    with pytest.raises(NotFinite):
        Eccentricity.toward(float("nan"), 0.01)
    with pytest.raises(NegativeLength):
        Eccentricity.toward(10, -0.01)
