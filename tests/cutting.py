"""Jobs cut on a fixture that leans by a known amount, for tests of what the charts make of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

from qc.models import Fixture, Job, Kind, State
from qc.operations import learning, readings
from qc.units import mm
from tests.make import NOON, Shop, gaps, make_job

LOOSELY = "Plug hole in the way"


def cut_job(
    shop: Shop,
    serial: str,
    *,
    at: datetime = NOON,
    height: float = 0.50,
    side_to_side: float = 0.0,
    wide_toward: float = 0.0,
    clocking: int | None = 0,
    fixture: Fixture | None = None,
    positions: Sequence[int] = (0, 90, 180, 270),
    learn: bool = True,
) -> Job:
    """A measured job whose gap is `height` plus a lean on the fixture's own clock.

    side_to_side, in mm at the measuring radius, is widest toward `wide_toward` on the fixture's
    clock; on the engine's clock that is further round by the clocking.
    """
    job = make_job(shop, state=State.CUT, serial=serial, at=at, clocking=clocking, fixture=fixture)
    toward = wide_toward + (clocking or 0)
    readings.record_gap_readings(
        job=job,
        kind=Kind.ACHIEVED,
        readings=gaps(
            {
                deg: f"{height + side_to_side / 2 * math.cos(math.radians(deg - toward)):.4f}"
                for deg in positions
            }
        ),
        gauge=shop.gauge,
        base_gasket=mm("0.50"),
        solder=mm("1.2"),
        bolts_torqued=True,
        why_fewer="" if len(positions) >= 4 else LOOSELY,
        by=shop.operator,
        at=at + timedelta(hours=2),
    )
    if learn:
        learning.learn(round_ids=[job.rounds.get().pk], at=at + timedelta(hours=2))
    job.refresh_from_db()
    return job


def cut_some(shop: Shop, count: int, *, begin: datetime = NOON, **how: object) -> list[Job]:
    """One job a day, clocked round the fixture by turns, with heights that scatter a little.

    The charts follow at the last one.
    """
    return [
        cut_job(
            shop,
            f"{begin:%m%d}-{n}",
            at=begin + timedelta(days=n),
            clocking=90 * (n % 4),
            learn=n == count - 1,
            **{"height": 0.50 + 0.002 * (n % 3 - 1), **how},  # type: ignore[arg-type]
        )
        for n in range(count)
    ]
