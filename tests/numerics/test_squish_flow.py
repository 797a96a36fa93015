"""The squish band and its velocity: trade cases, a brute-force peak, charge moved step by step."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.errors import BadInput, NotFinite, OutOfReach
from qc.numerics.engine_effects.crank import Crank, piston_drop_mm
from qc.numerics.engine_effects.squish_flow import (
    SquishBand,
    band_volume,
    squish_peak,
    squish_velocity_ms,
    velocity_at_rpm,
    width_for_area_ratio,
)
from tests.numerics.trade import numbered_cases

BAND = SquishBand(43.2, 4.4)
ALDER = {
    "crank": Crank(31.6, 55.4),
    "band": BAND,
    "rpm": 9600.0,
    "gap_mm": 1.02,
    "clearance_cc": 6.09,
}


@pytest.mark.parametrize("case", numbered_cases("squish_area_ratio"))
def test_area_ratio(case):
    case.check(SquishBand(case.inputs["bore"], case.inputs["width"]).area_ratio)


@pytest.mark.parametrize("case", numbered_cases("squish_width_for_ratio"))
def test_width_for_a_ratio(case):
    case.check(width_for_area_ratio(case.inputs["ratio"], bore_mm=case.inputs["bore"]))


@pytest.mark.parametrize("case", numbered_cases("squish_share"))
def test_band_volume(case):
    given = case.inputs
    got = band_volume(
        bore_mm=given["bore"],
        area_ratio=given["area_ratio"],
        gap_mm=given["gap"],
        clearance_cc=given["vc_cc"],
    )
    case.check({"cc": got.volume_cc, "fraction": got.share})


@pytest.mark.parametrize("case", numbered_cases("squish_velocity_max"))
def test_peak_velocity(case):
    given = case.inputs
    peak = squish_peak(
        crank=Crank(given["stroke"], given["rod"]),
        band=SquishBand(given["bore"], given["width"]),
        rpm=given["rpm"],
        gap_mm=given["gap"],
        clearance_cc=given["vc_cc"],
    )
    case.check({"v": peak.velocity_ms, "deg_btdc": peak.btdc_deg})


@pytest.mark.parametrize("case", numbered_cases("msv_at_rpm"))
def test_velocity_at_another_speed(case):
    given = case.inputs
    case.check(velocity_at_rpm(given["v"], rpm=given["rpm"], new_rpm=given["rpm_new"]))


@given(bore=st.floats(20, 120), ratio=st.floats(0, 0.99))
def test_ratio_to_width_and_back(bore, ratio):
    width = width_for_area_ratio(ratio, bore_mm=bore)
    assert SquishBand(bore, width).area_ratio == pytest.approx(ratio, abs=1e-12)


@settings(max_examples=40)
@given(gap=st.floats(0.2, 1.5), width=st.floats(1, 15), ratio=st.floats(0.6, 2.5))
def test_the_peak_is_the_highest_of_a_fine_sweep(gap, width, ratio):
    given = {**ALDER, "crank": Crank(31.6, 31.6 * ratio), "band": SquishBand(43.2, width)}
    given["gap_mm"] = gap
    fine = squish_velocity_ms(np.arange(0, 180, 0.002), **given)
    peak = squish_peak(**given)
    assert peak.velocity_ms == pytest.approx(fine.max(), rel=1e-7)
    assert peak.btdc_deg == pytest.approx(0.002 * fine.argmax(), abs=0.003)


def test_velocity_agrees_with_charge_moved_step_by_step():
    # A fixed charge at one density, in a band ring and a bowl: what the ring loses in a small turn
    # of the crank flows inward through the ring's inner wall.
    area, inner = np.pi * 43.2**2 / 4, 43.2 - 2 * 4.4
    ring = area - np.pi * inner**2 / 4
    bowl = 6090.0 - area * 1.02
    deg, step = 13.0, 1e-4
    z = [1.02 + float(piston_drop_mm(at, crank=ALDER["crank"])) for at in (deg, deg - step)]
    density = [1 / (bowl + area * height) for height in z]
    moved = ring * z[0] * density[0] - ring * z[1] * density[1]
    seconds = step / (6 * 9600)
    wall = np.pi * inner * np.mean(z)
    stepwise = moved / np.mean(density) / wall / seconds / 1000
    got = float(squish_velocity_ms(deg - step / 2, **ALDER))
    assert got == pytest.approx(stepwise, rel=1e-6)


@given(one=st.floats(-1, 0.9), two=st.floats(-1, 0.9))
@settings(max_examples=30)
def test_a_tighter_gap_squeezes_faster(one, two):
    area = np.pi * 43.2**2 / 4000
    peaks = [
        squish_peak(**{**ALDER, "gap_mm": 1.02 - d, "clearance_cc": 6.09 - area * d}).velocity_ms
        for d in sorted((one, two))
    ]
    assert peaks[1] >= peaks[0] * (1 - 1e-12)


def test_velocity_goes_with_speed_and_size():
    plain = squish_peak(**ALDER)
    faster = squish_peak(**{**ALDER, "rpm": 19200.0})
    assert faster.velocity_ms == pytest.approx(2 * plain.velocity_ms, rel=1e-9)
    doubled = squish_peak(
        crank=Crank(63.2, 110.8),
        band=SquishBand(86.4, 8.8),
        rpm=9600,
        gap_mm=2.04,
        clearance_cc=6.09 * 8,
    )
    assert doubled.velocity_ms == pytest.approx(2 * plain.velocity_ms, rel=1e-9)
    assert doubled.btdc_deg == pytest.approx(plain.btdc_deg, abs=1e-4)


def test_no_band_no_squish():
    assert squish_peak(**{**ALDER, "band": SquishBand(43.2, 0.0)}).velocity_ms == 0


@pytest.mark.parametrize("width", [21.6, 30.0, -0.1, float("nan")])
def test_a_band_wider_than_half_the_bore(width):
    with pytest.raises((OutOfReach, NotFinite)):
        SquishBand(43.2, width)


def test_a_gap_that_leaves_no_bowl():
    with pytest.raises(OutOfReach, match="squish gap"):
        squish_peak(**{**ALDER, "gap_mm": 4.2})
    with pytest.raises(BadInput):
        squish_peak(**{**ALDER, "gap_mm": 0.0})
    with pytest.raises(OutOfReach):
        band_volume(bore_mm=43.2, area_ratio=1.0, gap_mm=1.0, clearance_cc=6.0)
