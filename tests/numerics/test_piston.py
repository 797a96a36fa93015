"""Piston speed and acceleration, against other routes to the same numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from qc.errors import BadInput, NotFinite, OutOfReach
from qc.numerics.engine_effects.crank import Crank, piston_acceleration_ms2, piston_speed_ms
from qc.numerics.engine_effects.piston import piston_motion

cranks = st.builds(
    lambda stroke, ratio: Crank(stroke, stroke * ratio), st.floats(20, 100), st.floats(1.0, 4.0)
)
speeds = st.floats(500, 15_000)


@given(crank=cranks, rpm=speeds)
def test_the_peak_speed_is_where_the_acceleration_is_nought(crank, rpm):
    motion = piston_motion(crank, rpm=rpm)

    def acceleration(deg):
        return float(piston_acceleration_ms2(deg, crank=crank, rpm=rpm))

    still = brentq(acceleration, 1.0, 120.0, xtol=1e-10)
    assert motion.peak_speed_deg == pytest.approx(still, abs=0.0051)
    peak = float(piston_speed_ms(still, crank=crank, rpm=rpm))
    assert motion.peak_speed_ms == pytest.approx(peak, rel=1e-7)


@given(crank=cranks, rpm=speeds)
def test_the_mean_acceleration_is_that_of_a_whole_turn(crank, rpm):
    still = piston_motion(crank, rpm=rpm).peak_speed_deg

    def size(deg):
        return abs(float(piston_acceleration_ms2(deg, crank=crank, rpm=rpm)))

    half = sum(quad(size, *ends, epsabs=0, epsrel=1e-10)[0] for ends in ((0, still), (still, 180)))
    assert piston_motion(crank, rpm=rpm).mean_acceleration_ms2 == pytest.approx(half / 180, 1e-6)


@given(crank=cranks, rpm=speeds)
def test_the_peak_acceleration_is_at_top_dead_centre(crank, rpm):
    """R w^2 (1 + R / L), which every crank whose rod is the stroke or longer keeps to."""
    throw, turning = crank.throw_mm / 1000, rpm * math.pi / 30
    at_top = throw * turning**2 * (1 + crank.throw_mm / crank.rod_mm)
    assert piston_motion(crank, rpm=rpm).peak_acceleration_ms2 == pytest.approx(at_top, rel=1e-12)


def test_a_very_long_rod_moves_the_piston_as_a_sine():
    """Peak over mean speed tends to pi / 2, at 90 degrees."""
    motion = piston_motion(Crank(50, 50_000 / 26), rpm=9000)
    assert motion.peak_speed_ms / motion.mean_speed_ms == pytest.approx(np.pi / 2, rel=1e-3)
    assert motion.peak_speed_deg == pytest.approx(90, abs=1)


@given(crank=cranks, rpm=speeds)
def test_the_inch_form_agrees_with_the_metric_one(crank, rpm):
    """Its printed constant is 0.02 % low."""
    motion = piston_motion(crank, rpm=rpm)
    metric_fts2 = motion.peak_acceleration_ms2 / 0.3048
    assert motion.jennings_fts2 == pytest.approx(metric_fts2, rel=3e-4)


@pytest.mark.parametrize(
    ("rpm", "error"), [(0, BadInput), (math.nan, NotFinite), (70_000, OutOfReach)]
)
def test_an_impossible_speed_is_refused(rpm, error):
    with pytest.raises(error):
        piston_motion(Crank(50, 100), rpm=rpm)
