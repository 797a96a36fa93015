"""Whether another pass would help, and what says so."""

from __future__ import annotations

from qc.numerics.results import GapFit, NextCut, Said, VerdictKind
from qc.numerics.verdict.words import SAME_MM, Finding, Limits

STAYS_UNEVEN = " It stays uneven unless the fixture is indicated again first."


def another_pass(
    kind: VerdictKind,
    fit: GapFit,
    limits: Limits,
    found: tuple[Finding, Finding, Finding],
    next_cut: NextCut,
) -> tuple[bool, Said]:
    """Whether taking more metal off would bring the job nearer its limits, and why."""
    height, tightest, evenness = found
    if kind == "accept":
        return False, Said("leave_it", {})
    if fit.kind == "reading":
        return False, Said("measure_first", {})
    if kind == "reject":
        too_low = height.standing == "does not conform" and fit.height_mm < limits.lower_mm
        if too_low or tightest.standing == "does not conform":
            return False, Said("too_narrow", {})
    uneven = evenness.standing == "does not conform"
    if uneven and (no_levelling := _no_levelling(fit, limits, next_cut)):
        return False, no_levelling
    if height.standing != "conforms" and next_cut.limited_by != "none":
        helps, why = _next_depth(fit, next_cut, then=STAYS_UNEVEN if uneven else "")
        if helps or not uneven:
            return helps, why
    if uneven:
        return True, Said("levelling", _levelled(fit))
    return False, Said("nothing_more_off", {})


def _next_depth(fit: GapFit, next_cut: NextCut, *, then: str) -> tuple[bool, Said]:
    depth, chip = next_cut.depth_mm, next_cut.smallest_chip_mm
    limit = {"floor": "the floor", "material": "the flange"}.get(next_cut.limited_by)
    if depth > 0 and depth >= chip - SAME_MM:
        return True, Said(
            "cut_brings",
            {
                "depth_mm": depth,
                "height_mm": fit.height_mm - depth,
                "so_far": f", as far as {limit} allows" if limit else "",
                "then": then,
            },
        )
    return False, Said(
        "edge_would_rub",
        {"depth_mm": depth, "chip_mm": chip, "limit": limit or "the target", "then": then},
    )


def _levelled(fit: GapFit) -> dict[str, float]:
    """Taking the whole difference at the wide side and nothing at the tight side."""
    difference = fit.side_to_side_mm or 0.0
    return {"difference_mm": difference, "height_mm": fit.height_mm - difference / 2}


def _no_levelling(fit: GapFit, limits: Limits, next_cut: NextCut) -> Said | None:
    """Why levelling cannot mend it; None where it can. The tight side stays as it is."""
    levelled = _levelled(fit)
    if levelled["difference_mm"] > next_cut.flange_mm:
        return Said("levelling_lacks_flange", {**levelled, "flange_mm": next_cut.flange_mm})
    if levelled["height_mm"] < limits.lower_mm:
        return Said("levelling_too_low", levelled)
    if fit.tightest_mm < limits.floor_mm:
        floor = {"tightest_mm": fit.tightest_mm, "floor_mm": limits.floor_mm}
        return Said("levelling_under_floor", floor)
    return None
