"""Whether another pass would help, and the sentence that says why."""

from __future__ import annotations

from qc.numerics.results import GapFit, NextCut, VerdictKind
from qc.numerics.verdict.words import SAME_MM, Finding, Limits, in_mm

STAYS_UNEVEN = " It stays uneven unless the fixture is indicated again first."


def another_pass(
    kind: VerdictKind,
    fit: GapFit,
    limits: Limits,
    found: tuple[Finding, Finding, Finding],
    next_cut: NextCut,
) -> tuple[bool, str]:
    """Whether taking more metal off would bring the job nearer its limits, and why."""
    height, tightest, evenness = found
    if kind == "accept":
        return False, "All is inside its limits: leave it."
    if fit.kind == "reading":
        return False, "Measure at four positions before taking more off."
    if kind == "reject":
        too_low = height.standing == "does not conform" and fit.height_mm < limits.lower_mm
        if too_low or tightest.standing == "does not conform":
            return False, "Cutting only narrows the gap, and it is too narrow already."
        return False, _no_levelling(fit, next_cut)
    uneven = evenness.standing == "does not conform"
    if height.standing != "conforms" and next_cut.limited_by != "none":
        helps, why = _next_depth(fit, next_cut)
        if helps or not uneven:
            return helps, why + (STAYS_UNEVEN if uneven else "")
    if uneven:
        return True, _levelling(fit)
    return False, "The height asks for no more off; more pieces or positions may settle the rest."


def _next_depth(fit: GapFit, next_cut: NextCut) -> tuple[bool, str]:
    depth, chip = next_cut.depth_mm, next_cut.smallest_chip_mm
    limit = {"floor": "the floor", "material": "the flange"}.get(next_cut.limited_by)
    if depth > 0 and depth >= chip - SAME_MM:
        so_far = f", as far as {limit} allows" if limit else ""
        after = in_mm(fit.height_mm - depth)
        return True, f"A cut of {in_mm(depth)} would bring the height to {after}{so_far}."
    return False, (
        f"Only {in_mm(depth)} is left to {limit or 'the target'}, under the smallest chip of "
        f"{in_mm(chip)}: the edge would rub instead of cutting."
    )


def _levelling(fit: GapFit) -> str:
    difference = fit.side_to_side_mm or 0.0
    return (
        f"With the fixture indicated again, a levelling cut of {in_mm(difference)} at the wide "
        f"side and none at the tight side would leave the height near "
        f"{in_mm(fit.height_mm - difference / 2)}."
    )


def _no_levelling(fit: GapFit, next_cut: NextCut) -> str:
    difference = fit.side_to_side_mm or 0.0
    if difference > next_cut.flange_mm:
        return (
            f"Levelling needs {in_mm(difference)} off the wide side, and the flange leaves "
            f"{in_mm(next_cut.flange_mm)}."
        )
    return (
        f"Levelling would leave the height near {in_mm(fit.height_mm - difference / 2)}, below its "
        "lower limit."
    )
