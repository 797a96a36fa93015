"""Volumes and compression ratios: trade cases, laws, and volumes added up in slices."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.errors import BadInput, NotFinite, OutOfReach
from qc.numerics.engine_effects.compression import (
    burette_clearance_cc,
    compression,
    ratio_of_parts,
    spark_density_ratio,
    swept_cc,
)
from qc.numerics.engine_effects.crank import Crank
from tests.numerics.trade import numbered_cases

ALDER = {"bore_mm": 43.2, "stroke_mm": 31.6, "clearance_cc": 6.09, "exhaust_mm": 21.5}


@pytest.mark.parametrize("case", numbered_cases("swept_cc"))
def test_swept_volume(case):
    case.check(swept_cc(bore_mm=case.inputs["bore"], stroke_mm=case.inputs["stroke"]))


@pytest.mark.parametrize("case", numbered_cases("compression"))
def test_ratios_before_and_after_a_cut(case):
    given = case.inputs
    got = compression(
        bore_mm=given["bore"],
        stroke_mm=given["stroke"],
        clearance_cc=given["vc_cc"],
        exhaust_mm=given["x_exh"],
        lowering_mm=given["cut"],
    )
    case.check(
        {"vc": got.clearance_cc, "geometric": got.geometric_ratio, "trapped": got.trapped_ratio}
    )


@pytest.mark.parametrize("case", numbered_cases("burette_vc"))
def test_clearance_by_burette(case):
    case.check(burette_clearance_cc(**case.inputs))


@pytest.mark.parametrize("case", numbered_cases("cr_parts"))
def test_ratio_from_parts(case):
    given = case.inputs
    case.check(ratio_of_parts(at_bottom_cc=given["parts_top"], at_top_cc=given["parts_clear"]))


@pytest.mark.parametrize("case", numbered_cases("spark_density_ratio"))
def test_charge_density_at_the_spark(case):
    given = case.inputs
    case.check(
        spark_density_ratio(
            bore_mm=given["bore"],
            crank=Crank(given["stroke"], given["rod"]),
            clearance_cc=given["vc_cc"],
            lowering_mm=given["cut"],
            spark_btdc_deg=given["spark_btdc"],
        )
    )


@given(one=st.floats(-3, 4), two=st.floats(-3, 4))
def test_a_deeper_cut_never_lowers_compression(one, two):
    less, more = sorted((one, two))
    first, second = (compression(**ALDER, lowering_mm=d) for d in (less, more))
    assert second.trapped_ratio >= first.trapped_ratio
    assert second.geometric_ratio >= first.geometric_ratio
    assert second.clearance_cc <= first.clearance_cc


@given(lowering=st.floats(-2, 4))
def test_the_trapped_volume_stays(lowering):
    got = compression(**ALDER, lowering_mm=lowering)
    slices = np.full(21500, np.pi * 43.2**2 / 4 * 0.001 / 1000)
    assert got.trapped_ratio * got.clearance_cc == pytest.approx(6.09 + slices.sum(), rel=1e-10)


@given(scale=st.floats(0.1, 10), lowering=st.floats(-2, 4))
def test_ratios_know_no_unit(scale, lowering):
    plain = compression(**ALDER, lowering_mm=lowering)
    scaled = compression(
        bore_mm=43.2 * scale,
        stroke_mm=31.6 * scale,
        clearance_cc=6.09 * scale**3,
        exhaust_mm=21.5 * scale,
        lowering_mm=lowering * scale,
    )
    assert scaled.trapped_ratio == pytest.approx(plain.trapped_ratio, rel=1e-9)
    assert scaled.geometric_ratio == pytest.approx(plain.geometric_ratio, rel=1e-9)


def test_without_an_exhaust_height_only_the_geometric_ratio():
    got = compression(bore_mm=43.2, stroke_mm=31.6, clearance_cc=6.09)
    assert got.trapped_ratio is None
    assert got.geometric_ratio == pytest.approx(8.6, abs=0.02)


def test_parts_may_be_negative_as_a_dome_is():
    assert ratio_of_parts(at_bottom_cc=[50, 10, -2], at_top_cc=[10, -2]) == pytest.approx(58 / 8)


def test_a_cut_that_uses_up_the_clearance_volume():
    depth = 6.09 * 1000 / (np.pi * 43.2**2 / 4)
    assert compression(**ALDER, lowering_mm=depth - 1e-6).geometric_ratio > 1e5
    for cut in (depth, depth + 0.01):
        with pytest.raises(OutOfReach, match="Lowering the cylinder"):
            compression(**ALDER, lowering_mm=cut)


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"clearance_cc": 0}, BadInput),
        ({"clearance_cc": 60}, OutOfReach),
        ({"clearance_cc": float("nan")}, NotFinite),
        ({"exhaust_mm": 31.7}, OutOfReach),
        ({"bore_mm": 1e9}, BadInput),
        ({"bore_mm": 0}, BadInput),
        ({"lowering_mm": float("inf")}, NotFinite),
    ],
)
def test_impossible_volumes(change, error):
    with pytest.raises(error):
        compression(**{**ALDER, **change})


def test_a_plug_well_larger_than_what_was_filled():
    with pytest.raises(OutOfReach, match="plug well"):
        burette_clearance_cc(filled_cc=1.0, plug_well_cc=1.0)


@pytest.mark.parametrize("top", [[0.0], [-1.0], [11.0], [float("nan")]])
def test_parts_that_make_no_ratio(top):
    with pytest.raises(BadInput):
        ratio_of_parts(at_bottom_cc=[10.0], at_top_cc=top)
