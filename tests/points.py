"""Measured rounds as the lookups read them, made up without a database."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from qc.lookups.record.channels import JobPoint
from tests.make import NOON

CYCLE = (-0.008, 0.004, 0.0, -0.004, 0.008)


def points(
    errors: Sequence[float],
    *,
    begin: datetime = NOON,
    tolerances: Sequence[float] = (0.05,),
    spreads: Sequence[float | None] = (None,),
) -> list[JobPoint]:
    """Jobs one day apart with these target errors; tolerances, either way, and spreads by turns."""
    return [
        JobPoint(
            round_id=n,
            job_id=n,
            round_number=1,
            at=begin + timedelta(days=n),
            fixture_id=None,
            lathe_id=None,
            edge_id=None,
            gauge_id=None,
            operator=None,
            verdict="accept",
            target_mm=0.5,
            tol_minus_mm=tolerances[n % len(tolerances)],
            tol_plus_mm=tolerances[n % len(tolerances)],
            target_error_mm=error,
            height_error_mm=error,
            spread_mm=spreads[n % len(spreads)],
            side_to_side_mm=None,
            tilt_mm=None,
        )
        for n, error in enumerate(errors)
    ]


def season(jobs: int, *, shifted_by: float = 0.0, **how: Sequence[float]) -> list[JobPoint]:
    """Errors of CYCLE by turns, the later half moved; halves of five, ten, ... are alike."""
    errors = [CYCLE[n % 5] + (shifted_by if 2 * n >= jobs else 0.0) for n in range(jobs)]
    return points(errors, **{"spreads": (0.004, 0.005, 0.006), **how})
