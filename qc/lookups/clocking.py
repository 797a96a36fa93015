"""The clocking test of one cylinder: two of its rounds, same fixture, two clockings."""

from __future__ import annotations

from dataclasses import dataclass

from qc.models import Cylinder, JobResult
from qc.numerics.clocking import ClockingRun, TiltEstimate, separate_tilts


@dataclass(frozen=True, eq=False)
class ClockingTest:
    """`first` and `second` are the newest results of the two rounds compared."""

    first: JobResult
    second: JobResult
    run: ClockingRun


def clocking_test(cylinder: Cylinder) -> ClockingTest | None:
    """The newest two rounds of this cylinder on one fixture, both clocked and with a tilt vector.

    Needs a full facing cut at each clocking, so passes must be on record. None where no two such
    rounds exist.
    """
    results = list(
        JobResult.objects.filter(
            is_current=True,
            round__job__cylinder=cylinder,
            round__clocking_deg__isnull=False,
            round__fixture__isnull=False,
            tilt_cos_mm__isnull=False,
            depth_is_planned=False,
            depth_cut_mm__gt=0,
        )
        .select_related("round__fixture")
        .order_by("-measured_at", "-pk")
    )
    for second in results[:1]:
        for first in results[1:]:
            if first.round.fixture_id == second.round.fixture_id:
                return ClockingTest(first, second, _separate(first, second))
    return None


def _separate(first: JobResult, second: JobResult) -> ClockingRun:
    assert first.round.clocking_deg is not None
    assert second.round.clocking_deg is not None
    return separate_tilts(
        _estimate(first),
        _estimate(second),
        first_clocking_deg=float(first.round.clocking_deg),
        second_clocking_deg=float(second.round.clocking_deg),
    )


def _estimate(result: JobResult) -> TiltEstimate:
    """A component's uncertainty is half that of the side-to-side difference."""
    u_mm = (result.u_side_to_side_mm or 0.0) / 2
    assert result.tilt_cos_mm is not None
    assert result.tilt_sin_mm is not None
    return TiltEstimate.of([result.tilt_cos_mm, result.tilt_sin_mm], u_mm)
