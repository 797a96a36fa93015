"""What each result shows against its limits, as codes and numbers, and the rule in words.

The sentences of the codes are in `qc.sentences`.
"""

from __future__ import annotations

from dataclasses import dataclass

from scipy.special import ndtr

from qc.numerics.results import Conformity, GapFit, Said
from qc.numerics.uncertainty import decide

# A reading this close to a limit lies on it; records keep 1e-6 mm.
SAME_MM = 1e-9


@dataclass(frozen=True)
class Limits:
    """What a round is held to, mm: height within lower to upper, tightest over floor, D under."""

    lower_mm: float
    upper_mm: float
    floor_mm: float
    evenness_mm: float


@dataclass(frozen=True)
class Guards:
    """Guard band of each limit, mm; evenness None where the positions do not show it."""

    height_mm: float
    tightest_mm: float
    evenness_mm: float | None


@dataclass(frozen=True)
class Finding:
    """What one result shows against its limits. standing None: not shown at all."""

    standing: Conformity | None
    said: Said


def findings(fit: GapFit, limits: Limits, guards: Guards) -> tuple[Finding, Finding, Finding]:
    """Height, tightest and evenness, in that order."""
    return _height(fit, limits, guards), _tightest(fit, limits, guards), _even(fit, limits, guards)


def _height(fit: GapFit, limits: Limits, guards: Guards) -> Finding:
    low, high, guard = limits.lower_mm, limits.upper_mm, guards.height_mm
    standing = decide(fit.height_mm, lower=low, upper=high, guard=guard)
    facts = {"height_mm": fit.height_mm, "low_mm": low, "high_mm": high, "guard_mm": guard}
    if fit.kind == "reading":
        return Finding(None, Said("height_one_position", facts))
    if standing == "conforms":
        return Finding(standing, Said("height_inside", facts))
    if standing == "does not conform":
        code = "height_below" if fit.height_mm < low else "height_above"
        return Finding(standing, Said(code, facts))
    if high - low < 2 * guard:
        return Finding(standing, Said("height_no_room", facts))
    near = low if fit.height_mm - low < high - fit.height_mm else high
    return Finding(standing, Said("height_near", {**facts, "near_mm": near}))


def _tightest(fit: GapFit, limits: Limits, guards: Guards) -> Finding:
    floor, guard = limits.floor_mm, guards.tightest_mm
    standing = decide(fit.tightest_mm, lower=floor, guard=guard)
    codes = {
        "conforms": "tightest_inside",
        "undecided": "tightest_near",
        "does not conform": "tightest_under",
    }
    facts = {"tightest_mm": fit.tightest_mm, "floor_mm": floor, "guard_mm": guard}
    return Finding(standing, Said(codes[standing], facts))


def _even(fit: GapFit, limits: Limits, guards: Guards) -> Finding:
    limit, guard, difference = limits.evenness_mm, guards.evenness_mm, fit.side_to_side_mm
    if difference is None or guard is None:
        if fit.component_mm is None or fit.component_axis_deg is None:
            return Finding(None, Said("evenness_not_shown", {}))
        along = {"axis_deg": fit.component_axis_deg, "along_mm": 2 * abs(fit.component_mm)}
        return Finding(None, Said("evenness_one_axis", along))
    standing = decide(difference, upper=limit, guard=guard)
    wide = fit.wide_toward_deg
    codes = {
        "conforms": "evenness_inside",
        "undecided": "evenness_near",
        "does not conform": "evenness_over",
    }
    facts: dict[str, float | str] = {
        "difference_mm": difference,
        "toward": "" if wide is None else f", wide toward {round(wide) % 360} degrees,",
        "limit_mm": limit,
        "guard_mm": guard,
    }
    return Finding(standing, Said(codes[standing], facts))


def rule(factor: float) -> str:
    """The decision rule in words, for the record and the certificate."""
    return (
        f"Each limit has a guard band of {factor:g} standard uncertainties "
        f"({ndtr(factor):.0%} one-sided). Accept: height, tightest gap and evenness all inside "
        "their limits by their guard bands. Reject: height or tightest gap beyond the low limit by "
        "its guard band, or evenness beyond its limit by its guard band where levelling cannot "
        "mend it. Cut again: height beyond the high limit by its guard band, with a cut left that "
        "the edge can take and the floor and the flange allow, unless it is uneven and levelling "
        "would leave the height below its low limit. Otherwise undecided. "
        "After JCGM 106:2012 clause 8 and ISO 14253-1."
    )
