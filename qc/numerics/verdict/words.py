"""The sentences of a verdict: what each result shows against its limits, and the rule."""

from __future__ import annotations

from dataclasses import dataclass

from scipy.special import ndtr

from qc.numerics.results import Conformity, GapFit
from qc.numerics.uncertainty import decide

# A reading this close to a limit lies on it; records keep 1e-6 mm.
SAME_MM = 1e-9

FOUR_POSITIONS = "Readings at 0, 90, 180 and 270 degrees would show it, and toward where."


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
    sentence: str


def findings(fit: GapFit, limits: Limits, guards: Guards) -> tuple[Finding, Finding, Finding]:
    """Height, tightest and evenness, in that order."""
    return _height(fit, limits, guards), _tightest(fit, limits, guards), _even(fit, limits, guards)


def _height(fit: GapFit, limits: Limits, guards: Guards) -> Finding:
    low, high, guard = limits.lower_mm, limits.upper_mm, guards.height_mm
    allowed = f"{in_mm(low)} to {in_mm(high)}"
    standing = decide(fit.height_mm, lower=low, upper=high, guard=guard)
    says = f"The height of {in_mm(fit.height_mm)}"
    if fit.kind == "reading":
        return Finding(None, f"{says} rests on one position, which cannot show the height.")
    if standing == "conforms":
        return Finding(standing, f"{says} is inside {allowed}, guard bands kept.")
    if standing == "does not conform":
        side = f"below {in_mm(low)}" if fit.height_mm < low else f"above {in_mm(high)}"
        return Finding(standing, f"{says} is {side} by more than its guard band of {in_mm(guard)}.")
    if high - low < 2 * guard:
        return Finding(
            standing,
            f"{says} cannot be shown to be inside {allowed}: the guard bands of "
            f"{in_mm(guard)} leave no room. More pieces or a finer gauge would.",
        )
    near = low if fit.height_mm - low < high - fit.height_mm else high
    return Finding(standing, f"{says} is within {in_mm(guard)} of its limit of {in_mm(near)}.")


def _tightest(fit: GapFit, limits: Limits, guards: Guards) -> Finding:
    floor, guard = limits.floor_mm, guards.tightest_mm
    standing = decide(fit.tightest_mm, lower=floor, guard=guard)
    return Finding(
        standing,
        f"The tightest gap of {in_mm(fit.tightest_mm)} "
        + {
            "conforms": f"is over the floor of {in_mm(floor)}, guard band kept.",
            "undecided": f"is within {in_mm(guard)} of the floor of {in_mm(floor)}.",
            "does not conform": f"is more than {in_mm(guard)} under the floor of {in_mm(floor)}.",
        }[standing],
    )


def _even(fit: GapFit, limits: Limits, guards: Guards) -> Finding:
    limit, guard, difference = limits.evenness_mm, guards.evenness_mm, fit.side_to_side_mm
    if difference is None or guard is None:
        seen = ""
        if fit.component_mm is not None and fit.component_axis_deg is not None:
            seen = (
                f" Along {fit.component_axis_deg:g} degrees alone it is "
                f"{in_mm(2 * abs(fit.component_mm))}; across that it was not measured."
            )
        return Finding(None, f"Evenness is not shown by these positions.{seen} {FOUR_POSITIONS}")
    standing = decide(difference, upper=limit, guard=guard)
    wide = fit.wide_toward_deg
    toward = "" if wide is None else f", wide toward {round(wide) % 360} degrees,"
    return Finding(
        standing,
        f"The side-to-side difference of {in_mm(difference)}{toward} "
        + {
            "conforms": f"is under {in_mm(limit)}, guard band kept.",
            "undecided": f"is within {in_mm(guard)} of its limit of {in_mm(limit)}.",
            "does not conform": f"is over {in_mm(limit)} by more than {in_mm(guard)}.",
        }[standing],
    )


def rule(factor: float) -> str:
    """The decision rule in words, for the record and the certificate."""
    return (
        f"Each limit has a guard band of {factor:g} standard uncertainties "
        f"({ndtr(factor):.0%} one-sided). Accept: height, tightest gap and evenness all inside "
        "their limits by their guard bands. Reject: height or tightest gap beyond the low limit by "
        "its guard band, or evenness beyond its limit by its guard band where levelling cannot "
        "mend it. Cut again: height beyond the high limit by its guard band, with a cut left that "
        "the edge can take and the floor and the flange allow. Otherwise undecided. "
        "After JCGM 106:2012 clause 8 and ISO 14253-1."
    )


def in_mm(length_mm: float) -> str:
    return f"{length_mm:.3f} mm"
