"""The slider crank and port timing: trade cases, laws, and routes that share no formula."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from qc.errors import BadInput, LengthTooLarge, NegativeLength, NotFinite, OutOfReach, RodTooShort
from qc.numerics.engine_effects.crank import (
    Crank,
    crank_angle_deg,
    jennings_acceleration_fts2,
    mean_piston_speed_ms,
    piston_acceleration_ms2,
    piston_drop_mm,
    piston_speed_ms,
    travel_per_degree_mm,
)
from qc.numerics.engine_effects.timing import Ports, port_timing
from tests.numerics.trade import numbered_cases

ALDER = Crank(31.6, 55.4)
strokes = st.floats(10, 150)
ratios = st.floats(0.51, 4)
angles = st.floats(0, 180)


@pytest.mark.parametrize("case", numbered_cases("crank_angle"))
def test_angle_from_travel(case):
    given = case.inputs
    case.check(crank_angle_deg(given["x"], crank=Crank(given["stroke"], given["rod"])))


@pytest.mark.parametrize("case", numbered_cases("piston_drop"))
def test_travel_from_angle(case):
    given = case.inputs
    case.check(piston_drop_mm(given["deg"], crank=Crank(given["stroke"], given["rod"])))


@pytest.mark.parametrize("case", numbered_cases("port_timing", "timing_change"))
def test_port_timing(case):
    given = case.inputs
    crank = Crank(given["stroke"], given["rod"])
    ports = Ports(given["x_exh"], given["x_tra"], given["x_int"])
    found = _short_names(port_timing(ports, crank=crank))
    if case.function == "port_timing":
        case.check(found)
        return
    after = _short_names(port_timing(ports, crank=crank, lowering_mm=given["cut"]))
    case.check({f"d_{name}": after[name] - found[name] for name in found})


def _short_names(timing):
    return {
        "exh_open": timing.exhaust_open_deg,
        "exh_dur": timing.exhaust_duration_deg,
        "tra_open": timing.transfer_open_deg,
        "tra_dur": timing.transfer_duration_deg,
        "blowdown": timing.blowdown_deg,
        "int_open": timing.intake_open_btdc_deg,
        "int_dur": timing.intake_duration_deg,
    }


@pytest.mark.parametrize("case", numbered_cases("mean_piston_speed"))
def test_mean_piston_speed(case):
    given = case.inputs
    case.check(mean_piston_speed_ms(Crank(given["stroke"], 100.0), rpm=given["rpm"]))


@pytest.mark.parametrize("case", numbered_cases("piston_accel_tdc"))
def test_acceleration_at_top_dead_centre(case):
    given = case.inputs
    crank = Crank(given["stroke"], given["rod"])
    case.check(piston_acceleration_ms2(0.0, crank=crank, rpm=given["rpm"]))


@pytest.mark.parametrize("case", numbered_cases("jennings_accel"))
def test_the_inch_form_of_acceleration(case):
    case.check(jennings_acceleration_fts2(**case.inputs))


def test_the_inch_form_agrees_with_the_metric_one():
    inch = jennings_acceleration_fts2(stroke_in=31.6 / 25.4, rod_ratio=55.4 / 31.6, rpm=12000)
    metric = float(piston_acceleration_ms2(0.0, crank=ALDER, rpm=12000))
    # Its printed constant 2189 is 2188.5 rounded.
    assert inch * 0.3048 == pytest.approx(metric, rel=3e-4)


@given(stroke=strokes, ratio=ratios, deg=angles)
def test_angle_to_travel_and_back(stroke, ratio, deg):
    crank = Crank(stroke, stroke * ratio)
    drop = min(float(piston_drop_mm(deg, crank=crank)), stroke)
    again = crank_angle_deg(drop, crank=crank)
    # Near a dead centre the angle goes with the square root of the travel: compare travel there.
    assert float(piston_drop_mm(again, crank=crank)) == pytest.approx(drop, abs=1e-12 * stroke)
    if 0.1 < deg < 179.9:
        assert again == pytest.approx(deg, abs=1e-8)


@given(stroke=strokes, ratio=ratios, deg=angles, scale=st.floats(0.01, 3))
def test_angles_know_no_unit(stroke, ratio, deg, scale):
    small, large = Crank(stroke, stroke * ratio), Crank(stroke * scale, stroke * ratio * scale)
    one, other = piston_drop_mm(deg, crank=small), piston_drop_mm(deg, crank=large)
    assert float(other) == pytest.approx(float(one) * scale, rel=1e-12)


@given(stroke=strokes, ratio=ratios, share=st.floats(0.01, 0.99))
def test_angle_agrees_with_a_search_on_the_plain_formula(stroke, ratio, share):
    rod, throw = stroke * ratio, stroke / 2

    def drop(deg):
        rad = np.radians(deg)
        return throw * (1 - np.cos(rad)) + rod - np.sqrt(rod**2 - (throw * np.sin(rad)) ** 2)

    searched = brentq(lambda deg: drop(deg) - share * stroke, 0, 180, xtol=1e-12)
    got = crank_angle_deg(share * stroke, crank=Crank(stroke, rod))
    assert got == pytest.approx(searched, abs=1e-7)


@pytest.mark.parametrize("deg", [0.0, 13.0, 76.0, 121.0, 180.0, 250.0])
def test_speed_and_acceleration_are_the_slopes_of_travel(deg):
    # Central differences of the place of a pin on a circle, by complex numbers.
    def place(at):
        pin = 15.8 * np.exp(1j * np.radians(at))
        return 15.8 + 55.4 - (pin.real + np.sqrt(55.4**2 - pin.imag**2))

    rpm, step = 9000.0, 1e-2
    seconds = step / (6 * rpm)
    speed = (place(deg + step) - place(deg - step)) / (2 * seconds) / 1000
    acceleration = (place(deg + step) - 2 * place(deg) + place(deg - step)) / seconds**2 / 1000
    assert float(piston_speed_ms(deg, crank=ALDER, rpm=rpm)) == pytest.approx(speed, abs=1e-6)
    assert float(piston_acceleration_ms2(deg, crank=ALDER, rpm=rpm)) == pytest.approx(
        acceleration, rel=1e-5, abs=0.1
    )


def test_travel_sums_to_the_stroke():
    deg = np.linspace(0, 180, 18001)
    slope = travel_per_degree_mm(deg, crank=ALDER)
    assert np.trapezoid(slope, deg) == pytest.approx(31.6, rel=1e-8)


def test_many_angles_at_once():
    deg = np.array([[0.0, 90.0], [180.0, 360.0]])
    drop = piston_drop_mm(deg, crank=ALDER)
    assert drop.shape == (2, 2)
    assert drop[1].tolist() == pytest.approx([31.6, 0.0], abs=1e-12)


@given(
    stroke=strokes, ratio=ratios, high=st.floats(0.3, 0.9), one=st.floats(0, 1), two=st.floats(0, 1)
)
def test_a_lower_cylinder_opens_later_and_takes_in_earlier(stroke, ratio, high, one, two):
    less, more = sorted((one, two))
    crank, room = Crank(stroke, stroke * ratio), stroke * (1 - high) * 0.9
    ports = Ports(high * stroke, high * stroke, high * stroke / 2)
    first = port_timing(ports, crank=crank, lowering_mm=less * room)
    second = port_timing(ports, crank=crank, lowering_mm=more * room)
    assert second.exhaust_open_deg >= first.exhaust_open_deg
    assert second.exhaust_duration_deg <= first.exhaust_duration_deg
    assert second.intake_open_btdc_deg >= first.intake_open_btdc_deg
    assert second.blowdown_deg == first.blowdown_deg == 0


def test_a_reed_engine_has_no_intake_timing():
    timing = port_timing(Ports(exhaust_mm=21.5), crank=ALDER)
    assert timing.intake_duration_deg is None
    assert timing.blowdown_deg is None
    assert timing.exhaust_open_deg > 90


@pytest.mark.parametrize("rod", [15.8, 12.0])
def test_a_rod_that_cannot_pass_the_crank(rod):
    with pytest.raises(RodTooShort, match="cannot turn"):
        Crank(31.6, rod)


@pytest.mark.parametrize(
    ("stroke", "rod", "error"),
    [
        (float("nan"), 55, NotFinite),
        (31.6, float("inf"), NotFinite),
        (1e9, 2e9, LengthTooLarge),
        (-31.6, 55, NegativeLength),
        (0, 55, BadInput),
    ],
)
def test_impossible_cranks(stroke, rod, error):
    with pytest.raises(error):
        Crank(stroke, rod)


@pytest.mark.parametrize("height", [-0.01, 31.61, 1e9])
def test_a_port_outside_the_stroke_is_named(height):
    with pytest.raises(OutOfReach, match="exhaust port's edge"):
        port_timing(Ports(exhaust_mm=height), crank=ALDER)
    with pytest.raises(NotFinite):
        port_timing(Ports(intake_mm=float("nan")), crank=ALDER)


@pytest.mark.parametrize("rpm", [0, -100, 1e9, float("nan")])
def test_an_impossible_speed(rpm):
    with pytest.raises(BadInput):
        mean_piston_speed_ms(ALDER, rpm=rpm)
