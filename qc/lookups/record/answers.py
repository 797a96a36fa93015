"""What indicating and a clocking test came to, as plain facts to store: mm, degrees and words."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from qc.lookups.record.clocking import ClockingTest
from qc.lookups.record.indicating import (
    IndicatedSet,
    Indicating,
    PlaneRunout,
)
from qc.models import JobResult
from qc.numerics.clocking import TiltEstimate
from qc.numerics.runout import Runout

Facts = dict[str, Any]


def indicating_facts(seen: Indicating) -> Facts | None:
    """None before anything was indicated."""
    if seen.snug is None and seen.tight is None:
        return None
    return {
        "limit_mm": seen.limit_mm,
        "snug": _turn(seen.snug),
        "tight": _turn(seen.tight),
        "shift": None if seen.shift is None else asdict(seen.shift),
    }


def _turn(taken: IndicatedSet | None) -> Facts | None:
    if taken is None:
        return None
    return {
        "set": taken.set.pk,
        "planes": [_plane(one) for one in taken.planes],
        "lean": None if taken.lean is None else asdict(taken.lean),
    }


def _plane(one: PlaneRunout) -> Facts:
    return {
        "plane": one.plane,
        "refused": one.refused,
        "standing": one.standing,
        "runout": None if one.runout is None else _runout(one.runout),
        "tap": None if one.tap is None else asdict(one.tap),
    }


def _runout(found: Runout) -> Facts:
    offset = found.eccentricity
    return {
        "tir_mm": found.tir_mm,
        "u_tir_mm": found.u_tir_mm,
        "eccentricity": {
            "x_mm": offset.x_mm,
            "y_mm": offset.y_mm,
            "amount_mm": offset.amount_mm,
            "high_deg": offset.high_deg,
        },
        "u_eccentricity_mm": found.u_eccentricity_mm,
        "u_high_deg": found.u_high_deg,
        "form_left_mm": found.form_left_mm,
    }


def clocking_facts(test: ClockingTest) -> Facts:
    run, carried = test.run, test.carried
    return {
        "fixture": {"id": test.second.round.fixture_id, "name": str(test.second.round.fixture)},
        "first": _run_of(test.first),
        "second": _run_of(test.second),
        "turn_deg": run.turn_deg,
        "engine": None if run.engine is None else _tilt(run.engine),
        "fixture_part": None if run.fixture is None else _tilt(run.fixture),
        "noise_gain": run.noise_gain,
        "tells": list(run.tells),
        "does_not_tell": list(run.does_not_tell),
        "carried": None if carried is None else asdict(carried),
    }


def _run_of(result: JobResult) -> Facts:
    assert result.round.clocking_deg is not None
    return {
        "round_id": result.round_id,
        "job": result.round.job_id,
        "round": result.round.number,
        "revision": result.revision,
        "clocking_deg": float(result.round.clocking_deg),
    }


def _tilt(part: TiltEstimate) -> Facts:
    return {
        "a_mm": part.a_mm,
        "b_mm": part.b_mm,
        "amount_mm": part.amount_mm,
        "u_amount_mm": part.u_amount_mm,
        "wide_toward_deg": part.wide_toward_deg,
        "is_seen": part.is_seen,
    }
