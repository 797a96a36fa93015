"""One row a measured round: what it was made with and what it came to, in cutting order.

The order is that of the achieved readings' times; rows of one time keep the order they came in.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from qc.models import JobResult
from qc.numerics.tilt import to_fixture_frame

REFERENCE_RADIUS_MM = 20.0


@dataclass(frozen=True)
class JobPoint:
    """Errors in mm, positive when the gap came out wider.

    tilt_mm: the achieved side-to-side difference as a vector (2A, 2B) in the fixture's frame,
    scaled to a 20 mm radius; None without a tilt vector, a fixture or a clocking.
    """

    round_id: int
    job_id: int
    round_number: int
    at: datetime
    fixture_id: int | None
    lathe_id: int | None
    edge_id: int | None
    gauge_id: int | None
    operator: str | None
    verdict: str
    target_mm: float
    tol_minus_mm: float
    tol_plus_mm: float
    target_error_mm: float
    height_error_mm: float | None
    spread_mm: float | None
    side_to_side_mm: float | None
    tilt_mm: tuple[float, float] | None

    @property
    def is_inside(self) -> bool:
        """Whether the height came out within its tolerance."""
        return -self.tol_minus_mm <= self.target_error_mm <= self.tol_plus_mm


def measured_rounds() -> QuerySet[JobResult]:
    return (
        JobResult.objects.filter(is_current=True, is_reading_only=False)
        .select_related("round__job", "round__operator", "round__achieved_set")
        .order_by("measured_at", "pk")
    )


def job_points(results: QuerySet[JobResult] | None = None) -> list[JobPoint]:
    chosen = measured_rounds() if results is None else results
    return [_point(one) for one in chosen]


def _point(result: JobResult) -> JobPoint:
    round_, job = result.round, result.round.job
    return JobPoint(
        round_id=round_.pk,
        job_id=job.pk,
        round_number=round_.number,
        at=result.measured_at,
        fixture_id=round_.fixture_id,
        lathe_id=round_.lathe_id,
        edge_id=round_.edge_id,
        gauge_id=None if round_.achieved_set is None else round_.achieved_set.gauge_id,
        operator=None if round_.operator is None else round_.operator.username,
        verdict=result.verdict,
        target_mm=float(job.target_mm),
        tol_minus_mm=float(job.tol_minus_mm),
        tol_plus_mm=float(job.tol_plus_mm),
        target_error_mm=result.target_error_mm,
        height_error_mm=result.height_error_mm,
        spread_mm=result.spread_mm,
        side_to_side_mm=result.side_to_side_mm,
        tilt_mm=_fixture_tilt(result),
    )


def _fixture_tilt(result: JobResult) -> tuple[float, float] | None:
    round_ = result.round
    if result.tilt_cos_mm is None or result.tilt_sin_mm is None:
        return None
    if round_.fixture_id is None or round_.clocking_deg is None:
        return None
    a, b = to_fixture_frame(
        result.tilt_cos_mm, result.tilt_sin_mm, clocking_deg=float(round_.clocking_deg)
    )
    scale = 2 * REFERENCE_RADIUS_MM / float(result.measuring_radius_mm)
    return float(a) * scale, float(b) * scale
