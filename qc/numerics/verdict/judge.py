"""One round's achieved gap judged, with its reasons and probabilities.

Each limit has a guard band, so that a value counts as inside or outside only when the measurement
can show it. Concession and scrap are people's decisions, and not made here.
"""

from __future__ import annotations

import math

from qc.errors import BadInput
from qc.numerics.checks import LARGEST_GAP_MM, require_between, require_length_mm
from qc.numerics.results import GapBudget, GapFit, NextCut, Verdict, VerdictKind
from qc.numerics.uncertainty import conformance_probability
from qc.numerics.verdict.codes import KINDS, verdict_codes
from qc.numerics.verdict.next_pass import another_pass
from qc.numerics.verdict.words import (
    SAME_MM,
    Guards,
    Limits,
    findings,
    rule,
)

# 95 % one-sided: a reading on the guarded edge conforms with that probability.
GUARD_FACTOR = 1.645


def judge(
    *,
    fit: GapFit,
    budget: GapBudget,
    target_mm: float,
    tol_minus_mm: float,
    tol_plus_mm: float,
    floor_mm: float,
    evenness_limit_mm: float,
    next_cut: NextCut,
    guard_factor: float = GUARD_FACTOR,
) -> Verdict:
    """Judge one round's achieved gap.

    tol_minus_mm, tol_plus_mm: tolerance below and above the target, both >= 0, on the height.
    floor_mm: least gap allowed anywhere. evenness_limit_mm: largest side-to-side difference.
    next_cut: what a new plan from these readings would take (`target.plan_cut`).
    guard_factor: guard band of each limit, in standard uncertainties of that result.
    One position is always undecided. Without a tilt vector evenness is not shown, so nothing is
    accepted. The rest is said in `verdict_codes`.
    Source: JCGM 106:2012 clause 8 and ISO 14253-1 (guard bands).
    Raises NotFinite, NegativeLength, LengthTooLarge, OutOfReach; BadInput when fit and budget
    come from different positions.
    """
    if (fit.side_to_side_mm is None) != (budget.side_to_side is None):
        raise BadInput(why="The uncertainty budget belongs to other clock positions than the fit.")
    factor = require_between(guard_factor, what="The guard factor", lowest=0.0, highest=10.0)
    u_even = None if budget.side_to_side is None else budget.side_to_side.u_mm
    guards = Guards(
        height_mm=factor * budget.height.u_mm,
        tightest_mm=factor * budget.tightest.u_mm,
        evenness_mm=None if u_even is None else factor * u_even,
    )
    target = _gap(target_mm, "The target")
    limits = Limits(
        lower_mm=target - _gap(tol_minus_mm, "The tolerance below") - SAME_MM,
        upper_mm=target + _gap(tol_plus_mm, "The tolerance above") + SAME_MM,
        floor_mm=_gap(floor_mm, "The floor") - SAME_MM,
        evenness_mm=_gap(evenness_limit_mm, "The evenness limit") + SAME_MM,
    )
    kind = _kind(fit, limits, guards, next_cut)
    found = findings(fit, limits, guards)
    said = tuple(
        finding.said for finding in found if kind == "accept" or finding.standing != "conforms"
    )
    helps, why = another_pass(kind, fit, limits, found, next_cut)
    return Verdict(
        kind=kind,
        reasons=tuple(str(one) for one in said),
        said=said,
        another_pass_helps=helps,
        another_pass_reason=str(why),
        another_pass_said=why,
        probability_height=_probability(
            fit.height_mm, budget.height.u_mm, limits.lower_mm, limits.upper_mm
        ),
        probability_tightest=_probability(
            fit.tightest_mm, budget.tightest.u_mm, limits.floor_mm, None
        ),
        probability_evenness=(
            None
            if fit.side_to_side_mm is None or u_even is None
            else _probability(fit.side_to_side_mm, u_even, None, limits.evenness_mm)
        ),
        guard_height_mm=guards.height_mm,
        guard_tightest_mm=guards.tightest_mm,
        guard_evenness_mm=guards.evenness_mm,
        rule=rule(factor),
    )


def _kind(fit: GapFit, limits: Limits, guards: Guards, next_cut: NextCut) -> VerdictKind:
    if fit.kind == "reading":
        return "undecided"
    codes = verdict_codes(
        height_mm=fit.height_mm,
        tightest_mm=fit.tightest_mm,
        side_to_side_mm=_or_nan(fit.side_to_side_mm),
        guard_height_mm=guards.height_mm,
        guard_tightest_mm=guards.tightest_mm,
        guard_evenness_mm=_or_nan(guards.evenness_mm),
        lower_mm=limits.lower_mm,
        upper_mm=limits.upper_mm,
        floor_mm=limits.floor_mm,
        evenness_limit_mm=limits.evenness_mm,
        next_depth_mm=_gap(next_cut.depth_mm, "The next depth"),
        smallest_chip_mm=_gap(next_cut.smallest_chip_mm, "The smallest chip") - SAME_MM,
        room_mm=next_cut.flange_mm,
    )
    return KINDS[int(codes)]


def _gap(value_mm: float, what: str) -> float:
    return require_length_mm(value_mm, what=what, at_most_mm=LARGEST_GAP_MM)


def _or_nan(value_mm: float | None) -> float:
    return math.nan if value_mm is None else value_mm


def _probability(y: float, u: float, lower: float | None, upper: float | None) -> float:
    return float(conformance_probability(y, u=u, lower=lower, upper=upper))
