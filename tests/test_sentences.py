"""Every sentence of a verdict is worded from its facts, in any unit."""

from __future__ import annotations

import itertools
import string

import pytest

from qc.errors import DeeperThanPlanned, ShopError
from qc.numerics.checks import require_length_mm
from qc.numerics.cutting import pass_plan
from qc.numerics.engine_effects.crank import Crank
from qc.numerics.results import NextCut
from qc.numerics.runout import fit_runout
from qc.numerics.target import plan_cut
from qc.numerics.tilt import fit_gap
from qc.numerics.uncertainty import gap_budget
from qc.numerics.verdict import judge
from qc.sentences import OF_A_VERDICT, SENTENCES, in_words, worded
from qc.units import Unit, parse_length

SQUARE = (0.0, 90.0, 180.0, 270.0)


def verdicts():
    """Gaps, positions, limits and what is left to cut that between them reach every sentence."""
    sets = [
        (SQUARE, [height + d for d in shape])
        for height in (0.40, 0.46, 0.50, 0.56, 0.60)
        for shape in ((0, 0, 0, 0), (0.02, 0, -0.02, 0), (0.035, 0, -0.035, 0), (0.08, 0, -0.08, 0))
    ]
    sets += [(SQUARE, [0.505, 0.54, 0.415, 0.54])]
    sets += [((0.0, 180.0), [0.52, 0.48]), ((0.0,), [0.5]), ((0.0, 90.0), [0.5, 0.5])]
    nexts = [
        NextCut(depth_mm=0.1, smallest_chip_mm=0.01, limited_by="target", room_mm=1.0),
        NextCut(depth_mm=0.005, smallest_chip_mm=0.01, limited_by="floor", room_mm=1.0),
        NextCut(depth_mm=0.05, smallest_chip_mm=0.01, limited_by="material", room_mm=0.05),
        NextCut(depth_mm=0.0, smallest_chip_mm=0.01, limited_by="none", room_mm=1.0),
    ]
    for (at, gaps), nxt, tol in itertools.product(sets, nexts, (0.05, 0.005)):
        fit = fit_gap(gaps, position_deg=at)
        budget = gap_budget(
            positions=len(at),
            position_deg=at,
            pieces_per_position=1,
            gauge_step_mm=0.01,
            gauge_calibration_u_mm=0.001,
            repeat_sd_mm=0.01,
            repeat_df=4,
            gasket_u_mm=0.005,
            torque_u_mm=0.003,
            float_u_mm=0.003,
        )
        yield judge(
            fit=fit,
            budget=budget,
            target_mm=0.5,
            tol_minus_mm=tol,
            tol_plus_mm=tol,
            floor_mm=0.42,
            evenness_limit_mm=0.06,
            next_cut=nxt,
        )


def test_every_sentence_is_reached_and_worded_from_its_facts():
    reached = set()
    for verdict in verdicts():
        for said in (*verdict.said, verdict.another_pass_said):
            reached.add(said.code)
            words = in_words({"code": said.code, "facts": said.facts})
            assert "{" not in words
            inch = in_words(
                {"code": said.code, "facts": said.facts}, length=lambda mm: f"{mm / 25.4:.4f} in"
            )
            assert " mm" not in inch
            assert (inch != words) == (" mm" in words)
        assert verdict.reasons == tuple(
            in_words({"code": one.code, "facts": one.facts}) for one in verdict.said
        )
    assert reached == set(OF_A_VERDICT)


def test_every_reason_of_a_plan_is_reached():
    fine = {"height_mm": 1.0, "tightest_mm": 0.99, "target_mm": 0.5, "floor_mm": 0.42}
    told = {
        "target": (fine, None),
        "at_target": ({**fine, "height_mm": 0.5, "tightest_mm": 0.5}, "at_target"),
        "low": ({**fine, "height_mm": 0.5, "tightest_mm": 0.4}, "at_target_low"),
        "floor": ({**fine, "tightest_mm": 0.8}, "floor_stops"),
        "flange": ({**fine, "room_mm": 0.1}, "flange_stops"),
    }
    for given, code in told.values():
        plan = plan_cut(gasket_found_mm=0, gasket_next_mm=0, **given)
        assert (plan.said.code if plan.said else None) == code
        assert plan.reason == ("" if plan.said is None else str(plan.said))
    for depth, code in ((0.0, "nothing_to_cut"), (0.004, "pass_too_thin"), (0.1, None)):
        passes = pass_plan(depth, rough_max_mm=0.25, finish_mm=0.05, smallest_chip_mm=0.01)
        assert (passes.said.code if passes.said else None) == code


@pytest.mark.parametrize("sentence", SENTENCES.values(), ids=SENTENCES)
def test_no_sentence_names_a_unit_of_its_own(sentence):
    assert not {"mm", "in.", "inch", "thou"} & set(sentence.split())
    for _, name, spec, _ in string.Formatter().parse(sentence):
        assert not (name and name.endswith("_mm") and spec)


def test_a_fact_that_is_no_length_is_left_as_it_is():
    assert worded("{what} of {gap_mm}", {"what": "A gap", "gap_mm": 0.5}) == "A gap of 0.500 mm"


def test_a_refusal_is_told_in_any_unit():
    error = DeeperThanPlanned(dial="2.6 mm", over_mm=0.0762)
    assert "would be 0.076 mm deeper" in str(error)
    assert "would be 3.0 thou deeper" in error.told(length=lambda mm: f"{mm / 0.0254:.1f} thou")


@pytest.mark.parametrize(
    ("refused", "told"),
    [
        (
            lambda: Crank(stroke_mm=50.8, rod_mm=25.4),
            "A rod of 1000.0 thou cannot turn a crank of 2000.0 thou stroke. Check both.",
        ),
        (
            lambda: require_length_mm(2540.0, what="The rod"),
            "The rod of 100000.0 thou is beyond 78740.2 thou. Check the unit and the decimal "
            "point.",
        ),
        (
            lambda: require_length_mm(-0.0254, what="The cut"),
            "The cut cannot be negative; got -1.0 thou. Gaps are measured from zero up: check the "
            "sign.",
        ),
        (
            lambda: pass_plan(0.5, rough_max_mm=0.0254, finish_mm=0.0508, smallest_chip_mm=0.0127),
            "A finishing pass of 2.0 thou must lie between the smallest chip of 0.5 thou and the "
            "deepest pass of 1.0 thou, which must hold two such chips.",
        ),
        (
            lambda: fit_runout([0.0, 30.48, 0.0], angles_deg=[0, 120, 240], dial_step_mm=0.01),
            "A dial reading of 1200.0 thou is outside -984.3 thou to 984.3 thou. Check the "
            "geometry.",
        ),
        (
            lambda: parse_length("100 in", default_unit=Unit.MM).mm,  # as it was typed
            "A length of 100 in is beyond 78740.2 thou. Check the unit and the decimal point.",
        ),
    ],
)
def test_what_the_sums_refuse_is_told_in_the_readers_unit(refused, told):
    with pytest.raises(ShopError) as caught:
        refused()
    assert caught.value.told(length=lambda mm: f"{mm / 0.0254:.1f} thou") == told
