"""Every sentence of a verdict is worded from its facts, in any unit."""

from __future__ import annotations

import itertools
import string

import pytest

from qc.numerics.results import NextCut
from qc.numerics.tilt import fit_gap
from qc.numerics.uncertainty import gap_budget
from qc.numerics.verdict import judge
from qc.sentences import OF_A_VERDICT, verdict_words, worded

SQUARE = (0.0, 90.0, 180.0, 270.0)


def verdicts():
    """Gaps, positions, limits and what is left to cut that between them reach every sentence."""
    sets = [
        (SQUARE, [height + d for d in shape])
        for height in (0.40, 0.46, 0.50, 0.56, 0.60)
        for shape in ((0, 0, 0, 0), (0.02, 0, -0.02, 0), (0.035, 0, -0.035, 0), (0.08, 0, -0.08, 0))
    ]
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
            words = verdict_words({"code": said.code, "facts": said.facts})
            assert "{" not in words
            inch = verdict_words(
                {"code": said.code, "facts": said.facts}, length=lambda mm: f"{mm / 25.4:.4f} in"
            )
            assert " mm" not in inch
            assert (inch != words) == (" mm" in words)
        assert verdict.reasons == tuple(
            verdict_words({"code": one.code, "facts": one.facts}) for one in verdict.said
        )
    assert reached == set(OF_A_VERDICT)


@pytest.mark.parametrize("sentence", OF_A_VERDICT.values(), ids=OF_A_VERDICT)
def test_no_sentence_names_a_unit_of_its_own(sentence):
    assert not {"mm", "in.", "inch", "thou"} & set(sentence.split())
    for _, name, spec, _ in string.Formatter().parse(sentence):
        assert not (name and name.endswith("_mm") and spec)


def test_a_fact_that_is_no_length_is_left_as_it_is():
    assert worded("{what} of {gap_mm}", {"what": "A gap", "gap_mm": 0.5}) == "A gap of 0.500 mm"
