"""The clocking test: known parts found again, honest about noise, and carry-through."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import BadInput, NotFinite, TooFewReadings
from qc.numerics.carry_through import Share, carry_through, indicated_gap_tilt, pooled_share
from qc.numerics.clocking import SAME_CLOCKING, TiltEstimate, separate_tilts
from tests.numerics.trade import numbered_cases

parts = st.complex_numbers(max_magnitude=0.2, allow_nan=False)
clock = st.floats(-360, 720)
turns = st.floats(1, 359)
U = 0.007


def estimate(z, u=0.0):
    return TiltEstimate.of([z.real, z.imag], u)


def as_complex(tilt):
    return complex(tilt.a_mm, tilt.b_mm)


def two_runs(engine, fixture, first_deg, second_deg, u=0.0):
    """Each run worked by complex numbers, in which turning is a product."""
    return separate_tilts(
        *(
            estimate(engine + fixture * cmath.rect(1, math.radians(deg)), u)
            for deg in (first_deg, second_deg)
        ),
        first_clocking_deg=first_deg,
        second_clocking_deg=second_deg,
    )


@pytest.mark.parametrize("case", numbered_cases("clocking_separation"))
def test_parts_of_two_runs(case):
    given = case.inputs
    got = separate_tilts(
        TiltEstimate.of(given["run1"], 0.0),
        TiltEstimate.of(given["run2"], 0.0),
        first_clocking_deg=0,
        second_clocking_deg=given["turn_deg"],
    )
    case.check({"fixture": got.fixture.vector, "engine": got.engine.vector})


@given(engine=parts, fixture=parts, first=clock, turn=turns)
def test_known_parts_are_found_again(engine, fixture, first, turn):
    got = two_runs(engine, fixture, first, first + turn)
    assert as_complex(got.engine) == pytest.approx(engine, abs=1e-9)
    assert as_complex(got.fixture) == pytest.approx(fixture, abs=1e-9)


@given(engine=parts, fixture=parts, first=clock, turn=turns, by=clock)
def test_turning_the_engines_clock_turns_the_engine_and_leaves_the_fixture(
    engine, fixture, first, turn, by
):
    got = two_runs(engine * cmath.rect(1, math.radians(by)), fixture, first + by, first + turn + by)
    plain = two_runs(engine, fixture, first, first + turn)
    assert as_complex(got.engine) == pytest.approx(
        as_complex(plain.engine) * cmath.rect(1, math.radians(by)), abs=1e-9
    )


def test_a_half_turn_takes_half_the_difference_and_half_the_sum():
    first, second = complex(0.03, 0.01), complex(-0.01, 0.02)
    got = separate_tilts(
        estimate(first, U), estimate(second, U), first_clocking_deg=0, second_clocking_deg=180
    )
    assert as_complex(got.fixture) == pytest.approx((first - second) / 2)
    assert as_complex(got.engine) == pytest.approx((first + second) / 2)
    assert got.noise_gain == pytest.approx(0.5)
    assert got.fixture.covariance == pytest.approx(np.eye(2) * U**2 / 2, abs=1e-18)
    assert got.engine.covariance == pytest.approx(np.eye(2) * U**2 / 2, abs=1e-18)


@pytest.mark.parametrize("turn", [20.0, 90.0, 200.0])
def test_uncertainties_agree_with_made_up_runs(turn):
    rng = np.random.default_rng(8)
    skew = np.array([[4.0, 1.0], [1.0, 2.0]]) * 1e-6
    noise = rng.multivariate_normal([0, 0], skew, (4000, 2))
    found = []
    for one, other in noise:
        got = separate_tilts(
            TiltEstimate.of(one, skew),
            TiltEstimate.of(other, skew),
            first_clocking_deg=30,
            second_clocking_deg=30 + turn,
        )
        found.append([*got.fixture.vector, *got.engine.vector])
    seen = np.cov(np.array(found).T)
    largest = seen.max()
    assert seen[:2, :2] == pytest.approx(got.fixture.covariance, abs=0.06 * largest)
    assert seen[2:, 2:] == pytest.approx(got.engine.covariance, abs=0.06 * largest)


@pytest.mark.parametrize("second", [40.0, 400.0, 40.3])
def test_without_a_turn_only_the_sum_shows(second):
    got = two_runs(0.02 + 0j, 0.03j, 40, second, U)
    assert got.engine is None
    assert got.fixture is None
    assert got.noise_gain is None
    assert got.does_not_tell == (SAME_CLOCKING,)
    assert got.tells == (
        "The two runs agree within the noise: a check of the cut and the measuring.",
    )


def test_two_runs_at_one_clocking_can_disagree():
    got = separate_tilts(
        estimate(0.1 + 0j, U), estimate(0j, U), first_clocking_deg=5, second_clocking_deg=5
    )
    assert "differ by more than the noise" in got.tells[0]


def test_a_small_turn_says_what_it_costs():
    small, half = (two_runs(0j, 0.05 + 0j, 0, turn, U) for turn in (20, 180))
    assert small.noise_gain == pytest.approx(2.879, abs=1e-3)
    assert "20 degrees multiplies the noise by 2.9" in small.does_not_tell[0]
    assert not small.fixture.is_seen
    assert half.fixture.is_seen
    assert not half.engine.is_seen
    assert half.tells == (
        "The engine's tilt is not above the noise of this run.",
        "The fixture's tilt stands above the noise of this run.",
    )
    assert len(half.does_not_tell) == 3


def test_pure_noise_is_seen_one_time_in_twenty():
    rng = np.random.default_rng(2)
    noise = rng.normal(0, U, (8000, 2))
    seen = [TiltEstimate.of(row, U).is_seen for row in noise]
    assert np.mean(seen) == pytest.approx(0.05, abs=0.008)


def test_directions_and_lengths():
    tilt = estimate(complex(0, -0.03), U)
    assert (tilt.amount_mm, tilt.wide_toward_deg, tilt.u_amount_mm) == pytest.approx((0.03, 270, U))
    level = estimate(0j, U)
    assert level.wide_toward_deg is None
    assert level.u_amount_mm == pytest.approx(U)
    assert not estimate(0j).is_seen


@pytest.mark.parametrize(
    ("vector", "u", "error"),
    [
        ([0.1], U, BadInput),
        ([0.1, float("nan")], U, NotFinite),
        ([0.1, 0.1], [U, U, U], BadInput),
        ([0.1, 0.1], [[1.0, 2.0], [2.0, 1.0]], BadInput),
    ],
)
def test_tilts_that_cannot_be(vector, u, error):
    with pytest.raises(error):
        TiltEstimate.of(vector, u)


def test_a_clocking_that_cannot_be():
    with pytest.raises(NotFinite):
        two_runs(0j, 0j, 0, float("nan"))


INDICATED = indicated_gap_tilt(x_mrad=1.5, y_mrad=-0.8, u_mrad=0.05, radius_mm=20)


def runs_with_share(across, along, turn, u=0.0, engine=0.03 - 0.02j, pin_deg=90.0):
    """Gap tilts when the parts across and along the pin carry their own share."""
    tilts = []
    for deg in (10.0, 10.0 + turn):
        lean = as_complex(INDICATED) * cmath.rect(1, math.radians(deg))
        to_pin = cmath.rect(1, math.radians(90 - pin_deg))
        local = lean * to_pin
        carried = complex(across * local.real, along * local.imag) / to_pin
        tilts.append(estimate(engine + carried, u))
    return carry_through(
        *tilts,
        first_clocking_deg=10.0,
        second_clocking_deg=10.0 + turn,
        indicated=INDICATED,
        pin_deg=pin_deg,
    )


def test_an_indicated_tilt_as_a_gap():
    assert INDICATED.vector == pytest.approx([0.03, -0.016])
    assert INDICATED.u_amount_mm == pytest.approx(0.001)


@given(share=st.floats(0, 1), turn=st.floats(60, 300))
def test_one_share_is_found_again(share, turn):
    got = runs_with_share(share, share, turn, u=0.001)
    assert got.overall.value == pytest.approx(share, abs=1e-9)
    assert got.follows


@pytest.mark.parametrize("pin_deg", [90.0, 60.0, 0.0])
@pytest.mark.parametrize("turn", [90.0, 180.0])
def test_shares_across_and_along_the_pin(turn, pin_deg):
    got = runs_with_share(0.9, 0.3, turn, u=0.001, pin_deg=pin_deg)
    assert got.across_pin.value == pytest.approx(0.9)
    assert got.along_pin.value == pytest.approx(0.3)
    assert 0.3 < got.overall.value < 0.9


def test_a_change_square_to_the_indicated_tilt_does_not_follow():
    got = runs_with_share(0.9, 0.1, 180.0, u=0.0005)
    assert not got.follows


def test_no_turn_gives_no_share():
    got = runs_with_share(0.8, 0.8, 0.0, u=0.001)
    assert (got.overall, got.across_pin, got.along_pin, got.follows) == (None,) * 4


def test_share_uncertainty_agrees_with_made_up_runs():
    rng = np.random.default_rng(5)
    u, u_tilt, found, stated = 0.002, 0.003, [], []
    for _ in range(3000):
        lean = 0.03 - 0.016j
        noise = rng.normal(0, u, (2, 2)) @ [1, 1j]
        shown = lean + complex(*rng.normal(0, u_tilt, 2))
        got = carry_through(
            estimate(0.7 * lean + noise[0], u),
            estimate(-0.7 * lean + noise[1], u),
            first_clocking_deg=0,
            second_clocking_deg=180,
            indicated=estimate(shown, u_tilt),
        )
        found.append(got.overall.value)
        stated.append(got.overall.u)
    assert np.std(found) == pytest.approx(np.mean(stated), rel=0.06)
    assert np.mean(found) == pytest.approx(0.7, abs=0.01)


def test_pooling_runs_of_one_shop():
    pooled = pooled_share([Share(0.6, 0.1), Share(0.8, 0.2)])
    assert pooled.value == pytest.approx((0.6 / 0.01 + 0.8 / 0.04) / 125)
    assert pooled.u == pytest.approx(1 / math.sqrt(125))
    assert pooled_share([Share(0.5, 0.1)]) == Share(0.5, pytest.approx(0.1))


def test_runs_that_disagree_widen_the_pool():
    calm = pooled_share([Share(0.50, 0.02), Share(0.52, 0.02)])
    apart = pooled_share([Share(0.2, 0.02), Share(0.82, 0.02)])
    assert apart.u > 10 * calm.u


def test_pools_that_cannot_be():
    with pytest.raises(TooFewReadings):
        pooled_share([])
    with pytest.raises(BadInput):
        pooled_share([Share(0.5, 0.0)])
