"""What the shop can promise: its target errors held against their tolerances."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

import numpy as np

from qc.errors import BadInput
from qc.lookups.charts.shifts import target_error_shifts
from qc.lookups.record.channels import JobPoint
from qc.numerics.capability import Capability, NotSteady, capability
from qc.numerics.results import FloatArray

Sides = Literal["both", "upper", "lower"]
# An index from fewer jobs than this is uncertain by more than a third of itself.
FEWEST_JOBS = 20


@dataclass(frozen=True)
class CapabilityWish:
    """sides: which limits count; "upper" is too wide a gap, "lower" too tight. coverage: share of
    jobs that the tolerance interval is to hold."""

    sides: Sides = "both"
    coverage: float = 0.95
    confidence: float = 0.95
    even_if_unsteady: bool = False


@dataclass(frozen=True, eq=False)
class ShopCapability:
    """Values and limits are in mm, or where the jobs' tolerances differ in halves of the tolerance,
    so that the limits are -1 and 1 (`is_scaled`).

    found: None where jobs_wanted says how many more are needed, or `refusal` why there is none.
    stands_out: the first job the rest do not explain. shifted_at: the first job after their last
    shift. drifts: they moved one way without one.
    """

    jobs: Sequence[JobPoint]
    is_scaled: bool
    lower: float | None
    upper: float | None
    jobs_wanted: int = 0
    found: Capability | None = None
    refusal: str = ""
    stands_out: JobPoint | None = None
    shifted_at: JobPoint | None = None
    drifts: bool = False

    @property
    def is_steady(self) -> bool:
        """Whether nothing says that what comes next may differ."""
        return not (self.stands_out or self.shifted_at or self.drifts)

    @property
    def within(self) -> float | None:
        """How far from target, at the most, the stated share of jobs lands; None for one side."""
        if self.found is None or self.lower is None or self.upper is None:
            return None
        return max(abs(self.found.tolerance.low), abs(self.found.tolerance.high))

    @property
    def since(self) -> datetime | None:
        return self.jobs[0].at if self.jobs else None


def shop_capability(points: Sequence[JobPoint], wish: CapabilityWish) -> ShopCapability:
    """Capability of these jobs, in cutting order. Jobs that stand out, a shift or a drift among
    them: none, unless wished all the same. Raises BadInput for a share or a confidence that
    is none, or a job without tolerance on the side asked for."""
    if len(points) < FEWEST_JOBS:
        wanted = FEWEST_JOBS - len(points)
        return ShopCapability(points, is_scaled=False, lower=None, upper=None, jobs_wanted=wanted)
    values, lower, upper, is_scaled = _held_against(points, wish.sides)
    told = ShopCapability(points, is_scaled, lower, upper)
    if np.ptp(values) == 0:
        return replace(
            told, refusal="The gauge is too coarse: the jobs do not differ by its steps."
        )
    moved = target_error_shifts(points)
    try:
        found = capability(
            values,
            lower=lower,
            upper=upper,
            target=None if is_scaled and not _is_even(points) else 0.0,
            coverage=wish.coverage,
            confidence=wish.confidence,
            even_if_unsteady=wish.even_if_unsteady,
        )
    except NotSteady as error:
        first = points[int(str(error.facts["first"])) - 1]
        return replace(told, refusal="These jobs are not steady.", stands_out=first)
    odd = found.unsteady_at
    told = replace(
        told,
        stands_out=points[odd[0]] if odd else None,
        shifted_at=moved.shifts[-1].job if moved.shifts else None,
        drifts=not moved.shifts and moved.trend is not None and moved.trend.is_seen,
    )
    if wish.even_if_unsteady:
        return replace(told, found=found)
    if told.shifted_at is not None:
        return replace(told, refusal="These jobs shifted while they were made.")
    if told.drifts:
        return replace(told, refusal="These jobs drift.")
    return replace(told, found=found)


def _held_against(
    points: Sequence[JobPoint], sides: Sides
) -> tuple[FloatArray, float | None, float | None, bool]:
    """Values, limits, and whether they are scaled."""
    errors = np.array([one.target_error_mm for one in points])
    minus = np.array([one.tol_minus_mm for one in points])
    plus = np.array([one.tol_plus_mm for one in points])
    low: FloatArray | None = None if sides == "upper" else -minus
    high: FloatArray | None = None if sides == "lower" else plus
    if all(side is None or np.ptp(side) == 0 for side in (low, high)):
        lower, upper = (None if side is None else float(side[0]) for side in (low, high))
        return errors, lower, upper, False
    middle = (plus - minus) / 2 if sides == "both" else np.zeros(errors.size)
    half = {"both": (plus + minus) / 2, "upper": plus, "lower": minus}[sides]
    if not (half > 0).all():
        raise BadInput(why="A job here has no tolerance on that side: ask for the other limit.")
    return (
        (errors - middle) / half,
        None if low is None else -1.0,
        None if high is None else 1.0,
        True,
    )


def _is_even(points: Sequence[JobPoint]) -> bool:
    """Whether every job's target is the middle of its tolerance."""
    return all(one.tol_minus_mm == one.tol_plus_mm for one in points)
