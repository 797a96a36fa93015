"""One row a measured round: what it was made with and what it came to, in cutting order.

The order is that of the achieved readings' times; rows of one time keep the order they came in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from qc.models import JobResult
from qc.numerics.tilt import REFERENCE_RADIUS_MM, to_fixture_frame


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


COLUMNS = (
    "round_id",
    "round__job_id",
    "round__number",
    "measured_at",
    "round__fixture_id",
    "round__lathe_id",
    "round__edge_id",
    "round__achieved_set__gauge_id",
    "round__operator__username",
    "verdict",
    "round__job__target_mm",
    "round__job__tol_minus_mm",
    "round__job__tol_plus_mm",
    "target_error_mm",
    "height_error_mm",
    "spread_mm",
    "tilt_cos_mm",
    "tilt_sin_mm",
    "round__clocking_deg",
    "measuring_radius_mm",
)


def measured_rounds() -> QuerySet[JobResult]:
    """The results that count on charts: newest revision, more than one position, in order."""
    return JobResult.objects.filter(is_current=True, is_reading_only=False).order_by(
        "measured_at", "pk"
    )


def job_points(results: QuerySet[JobResult] | None = None) -> list[JobPoint]:
    """One query, however many: a chart needs every job and not one model row of them."""
    chosen = measured_rounds() if results is None else results
    return [_point(row) for row in chosen.values_list(*COLUMNS)]


def newest(results: QuerySet[JobResult], count: int) -> QuerySet[JobResult]:
    """The last of these, which come in cutting order, in that order.

    Found by their keys: asked for all it is to tell, SQLite sorts whole rows of the whole history.
    """
    keys = results.reverse().values("pk")[:count]
    return JobResult.objects.filter(pk__in=keys).order_by("measured_at", "pk")


def newest_points(results: QuerySet[JobResult], count: int) -> list[JobPoint]:
    """The last of these, which come in cutting order, in that order."""
    return job_points(newest(results, count))


def placed_points(results: QuerySet[JobResult]) -> list[tuple[int, JobPoint]]:
    """The same with each result's key, which orders jobs of one time."""
    return [(pk, _point(tuple(row))) for pk, *row in results.values_list("pk", *COLUMNS)]


def _point(row: tuple[Any, ...]) -> JobPoint:
    known = dict(zip(COLUMNS, row, strict=True))
    tilt_cos, tilt_sin = known["tilt_cos_mm"], known["tilt_sin_mm"]
    clocking, fixture_id = known["round__clocking_deg"], known["round__fixture_id"]
    has_tilt = tilt_cos is not None and tilt_sin is not None
    tilt = None
    if has_tilt and fixture_id is not None and clocking is not None:
        radius = float(known["measuring_radius_mm"])
        tilt = _fixture_tilt(tilt_cos, tilt_sin, clocking=float(clocking), radius=radius)
    return JobPoint(
        round_id=known["round_id"],
        job_id=known["round__job_id"],
        round_number=known["round__number"],
        at=known["measured_at"],
        fixture_id=fixture_id,
        lathe_id=known["round__lathe_id"],
        edge_id=known["round__edge_id"],
        gauge_id=known["round__achieved_set__gauge_id"],
        operator=known["round__operator__username"],
        verdict=known["verdict"],
        target_mm=float(known["round__job__target_mm"]),
        tol_minus_mm=float(known["round__job__tol_minus_mm"]),
        tol_plus_mm=float(known["round__job__tol_plus_mm"]),
        target_error_mm=known["target_error_mm"],
        height_error_mm=known["height_error_mm"],
        spread_mm=known["spread_mm"],
        side_to_side_mm=2 * math.hypot(tilt_cos, tilt_sin) if has_tilt else None,
        tilt_mm=tilt,
    )


def _fixture_tilt(
    tilt_cos: float, tilt_sin: float, *, clocking: float, radius: float
) -> tuple[float, float]:
    a, b = to_fixture_frame(tilt_cos, tilt_sin, clocking_deg=clocking)
    scale = 2 * REFERENCE_RADIUS_MM / radius
    return float(a) * scale, float(b) * scale
