"""What the running engine takes out of a cold gap."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import BadInput, NegativeLength, NotFinite
from qc.numerics.engine_effects.crank import Crank
from qc.numerics.engine_effects.running_gap import piston_rock_mm, rod_stretch_mm, running_gap
from tests.numerics.trade import numbered_cases

ALDER = {"reciprocating_kg": 0.105, "crank": Crank(31.6, 55.4), "shank_area_mm2": 38.0}


@pytest.mark.parametrize("case", numbered_cases("rod_stretch"))
def test_rod_stretch(case):
    given = case.inputs
    case.check(
        rod_stretch_mm(
            reciprocating_kg=given["recip_mass_kg"],
            crank=Crank(given["stroke"], given["rod"]),
            rpm=given["rpm"],
            shank_area_mm2=given["shank_area_mm2"],
        )
    )


@pytest.mark.parametrize("case", numbered_cases("piston_rock_edge"))
def test_piston_rock(case):
    given = case.inputs
    case.check(
        piston_rock_mm(
            bore_mm=given["bore"],
            skirt_clearance_mm=given["skirt_clearance"],
            skirt_length_mm=given["skirt_length"],
        )
    )


@pytest.mark.parametrize("case", numbered_cases("running_gap"))
def test_gap_left_at_speed(case):
    given = dict(case.inputs)
    case.check(running_gap(given.pop("cold_min"), **given).left_mm)


@given(rpm=st.floats(1000, 20000))
def test_ten_per_cent_of_overspeed_stretches_a_fifth_more(rpm):
    plain, over = (rod_stretch_mm(**ALDER, rpm=r) for r in (rpm, 1.1 * rpm))
    assert over / plain == pytest.approx(1.21, rel=1e-12)


def test_a_negative_gap_left_is_a_result():
    assert running_gap(0.05, rod_stretch_mm=0.04, carbon_mm=0.05).left_mm == pytest.approx(-0.04)


def test_impossible_losses():
    with pytest.raises(NegativeLength, match="carbon"):
        running_gap(0.42, carbon_mm=-0.01)
    with pytest.raises(NotFinite):
        running_gap(float("nan"))
    with pytest.raises(BadInput):
        rod_stretch_mm(**{**ALDER, "shank_area_mm2": 0.0}, rpm=12000)
    with pytest.raises(BadInput):
        piston_rock_mm(bore_mm=43.2, skirt_clearance_mm=0.04, skirt_length_mm=0)
