"""Which dial reading stands off the circle through the others, and when that is asked about."""

from __future__ import annotations

import numpy as np
import pytest

from qc.numerics.doubt import dial_odd_one_out

THOU = 0.0254
EIGHT = [0, 45, 90, 135, 180, 225, 270, 315]
# A circle 0.5 thou off centre toward 0, read to a tenth.
TRUE = [0.5, 0.4, 0.0, -0.4, -0.5, -0.4, 0.0, 0.4]


def odd(thou: list[float], angles: list[int], step: float = 0.1) -> int | None:
    found = dial_odd_one_out(
        [one * THOU for one in thou], angles_deg=angles, dial_step_mm=step * THOU
    )
    return None if found is None else found.index


def test_an_offset_circle_is_not_doubted_however_far_off():
    assert odd(TRUE, EIGHT) is None
    assert odd([20 * one for one in TRUE], EIGHT) is None


@pytest.mark.parametrize("at", [0, 1, 3, 4, 5, 7])
def test_a_slipped_decimal_point_is_found_where_it_is(at):
    slipped = [one * 10 if k == at else one for k, one in enumerate(TRUE)]
    assert odd(slipped, EIGHT) == at


def test_how_far_off_is_by_the_circle_of_the_others():
    """Seven readings lie within 0.02 thou of the circle 0.5 cos: at 45 degrees it is 0.354."""
    slipped = [4.0 * THOU if k == 1 else one * THOU for k, one in enumerate(TRUE)]
    found = dial_odd_one_out(slipped, angles_deg=EIGHT, dial_step_mm=0.1 * THOU)
    assert found is not None
    assert found.off_mm / THOU == pytest.approx(4 - 0.354, abs=0.06)
    assert found.explained_mm == pytest.approx(0.2 * THOU)


def test_four_readings_are_held_against_their_own_swing():
    assert odd([0.5, 0.0, -0.5, 0.0], EIGHT[::2]) is None
    assert odd([0.5, 0.1, -0.4, 0.0], EIGHT[::2]) is None
    assert odd([0.5, 0.0, -5.0, 0.0], EIGHT[::2]) == 2


def test_where_the_others_hold_no_circle_nothing_is_said():
    assert odd([0.0, 40.0], [0, 180]) is None
    assert odd([0.0, 0.1, 40.0], [0, 120, 240]) is None
    assert odd([0.0, 0.1, 0.2, 40.0], [0, 10, 20, 30]) is None


def test_a_needle_that_repeats_within_its_step_is_seldom_asked_about():
    rng = np.random.default_rng(7)
    phi = np.radians(EIGHT)
    asked = 0
    for _ in range(300):
        dial = rng.uniform(0, 2) * np.cos(phi - rng.uniform(0, 6.3)) + rng.normal(0, 0.1, 8)
        asked += odd(np.round(dial, 1).tolist(), EIGHT) is not None
    assert asked <= 3
