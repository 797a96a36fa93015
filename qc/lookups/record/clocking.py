"""The clocking tests of one cylinder: two of its rounds, same fixture, two clockings."""

from __future__ import annotations

from dataclasses import dataclass

from qc.lookups.record.indicating import indicating_of
from qc.models import Cylinder, JobResult, ServiceEvent, ShopPolicy
from qc.numerics.axis_tilt import AxisTilt
from qc.numerics.carry_through import CarryThrough, carry_through, indicated_gap_tilt
from qc.numerics.clocking import (
    USEFUL_TURN_DEG,
    ClockingRun,
    TiltEstimate,
    separate_tilts,
)


@dataclass(frozen=True, eq=False)
class ClockingTest:
    """`first` and `second` are the newest results of the two rounds compared.

    carried: how much of the fixture's indicated lean reached the gap; None unless the newer round
    was indicated in two planes, tightened, at two different clockings.
    """

    first: JobResult
    second: JobResult
    run: ClockingRun
    carried: CarryThrough | None


def clocking_tests(cylinder: Cylinder, *, policy: ShopPolicy) -> list[ClockingTest]:
    """Of each round of this cylinder, the test it makes with an earlier one on the same fixture.

    Newest first. A round is held against the newest earlier one that was clocked far enough apart,
    or else the newest at all. The fixture must not have been serviced between them. Both need a
    tilt vector and a full facing cut, so passes must be on record.
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
        .select_related("round__fixture", "round__job__cylinder__family")
        .order_by("-measured_at", "-pk")
    )
    tests = []
    for place, second in enumerate(results):
        firsts = [
            first
            for first in results[place + 1 :]
            if first.round.fixture_id == second.round.fixture_id
            and not _served_between(first, second)
        ]
        turned = [first for first in firsts if _turn_deg(first, second) >= USEFUL_TURN_DEG]
        tests += [_compare(first, second, policy=policy) for first in (turned or firsts)[:1]]
    return tests


def _turn_deg(first: JobResult, second: JobResult) -> float:
    assert first.round.clocking_deg is not None
    assert second.round.clocking_deg is not None
    turn = abs(float(second.round.clocking_deg - first.round.clocking_deg)) % 360
    return min(turn, 360 - turn)


def _served_between(first: JobResult, second: JobResult) -> bool:
    """Whether the fixture was re-indicated, dressed or repaired from one round to the other."""
    return ServiceEvent.objects.filter(
        fixture=second.round.fixture, at__gt=first.measured_at, at__lte=second.measured_at
    ).exists()


def _compare(first: JobResult, second: JobResult, *, policy: ShopPolicy) -> ClockingTest:
    assert first.round.clocking_deg is not None
    assert second.round.clocking_deg is not None
    one, other = _estimate(first), _estimate(second)
    turns = {
        "first_clocking_deg": float(first.round.clocking_deg),
        "second_clocking_deg": float(second.round.clocking_deg),
    }
    run = separate_tilts(one, other, **turns)
    lean = _lean(second, policy=policy)
    carried = None
    if lean is not None and run.fixture is not None:
        indicated = indicated_gap_tilt(
            x_mrad=lean.x_mrad,
            y_mrad=lean.y_mrad,
            u_mrad=lean.u_component_mrad,
            radius_mm=float(second.measuring_radius_mm),
        )
        carried = carry_through(one, other, indicated=indicated, **turns)
    return ClockingTest(first, second, run, carried)


def _lean(result: JobResult, *, policy: ShopPolicy) -> AxisTilt | None:
    tight = indicating_of(result.round, policy=policy).tight
    return None if tight is None else tight.lean


def _estimate(result: JobResult) -> TiltEstimate:
    """A component's uncertainty is half that of the side-to-side difference."""
    u_mm = (result.u_side_to_side_mm or 0.0) / 2
    assert result.tilt_cos_mm is not None
    assert result.tilt_sin_mm is not None
    return TiltEstimate.of([result.tilt_cos_mm, result.tilt_sin_mm], u_mm)
